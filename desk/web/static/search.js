// Results as one types; the clip plays where it was said.
"use strict";

const form = document.getElementById("find");
const results = document.getElementById("results");
let last = 0;
let timer = 0;

async function find() {
  const mine = ++last;
  const query = new URLSearchParams(new FormData(form));
  history.replaceState(null, "", `/search?${query}`);
  query.set("part", "1");
  const answer = await fetch(`/search?${query}`);
  const html = await answer.text();
  if (mine === last) results.innerHTML = html; // the desk's own template, every value escaped there
}

form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(find, 80); });
form.addEventListener("submit", (event) => { event.preventDefault(); find(); });

results.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-media]");
  if (!button) return;
  const audio = document.getElementById("clip");
  const until = Number(button.dataset.end) + 0.5;
  audio.src = `/media/${button.dataset.media}/sound`;
  audio.currentTime = Math.max(0, Number(button.dataset.start) - 0.5);
  audio.ontimeupdate = () => { if (audio.currentTime >= until) audio.pause(); };
  audio.play();
});
