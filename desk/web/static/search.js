// Results as one types; the clip plays where it was said.
"use strict";

const form = document.getElementById("find");
const results = document.getElementById("results");
const say = document.getElementById("say");
let last = 0;
let timer = 0;

async function find() {
  const mine = ++last;
  const query = new URLSearchParams(new FormData(form));
  history.replaceState(null, "", `/search?${query}`);
  query.set("part", "1");
  const answer = await fetch(`/search?${query}`);
  const html = await answer.text();
  if (mine !== last) return;
  results.innerHTML = html; // the desk's own template, every value escaped there
  say.textContent = results.firstElementChild?.textContent ?? "";
}

form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(find, 80); });
form.addEventListener("submit", (event) => { event.preventDefault(); find(); });

const audio = document.getElementById("clip");
let until = Infinity;
audio.addEventListener("timeupdate", () => { if (audio.currentTime >= until) audio.pause(); });

/** Play what a button names; where its format cannot be played, as the desk turns it. */
function play({ media, start, end }, as = "") {
  until = Number(end) + 0.5;
  audio.src = `/media/${media}/sound${as}`;
  audio.currentTime = Math.max(0, Number(start) - 0.5);
  audio.play().catch((problem) => {
    if (problem.name !== "NotSupportedError") return;
    if (as) say.textContent = "This sound cannot be played.";
    else play({ media, start, end }, "?wav");
  });
}

results.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-media]");
  if (button) play(button.dataset);
});
