// Trying a sentence: what it would become, with doubts and other readings. Nothing is recorded.
"use strict";

import { make, send } from "./desk.js";

const form = document.getElementById("try");
const became = document.getElementById("became");

function shown({ label, shown: value, doubts, others }) {
  const item = make("li", {}, make("span", {}, `${label}: `), make("b", { class: "number" }, value));
  for (const doubt of doubts) item.append(make("span", { class: "doubt" }, ` ? ${doubt}`));
  if (others.length) item.append(make("span", { class: "soft" }, ` or ${others.join(", ")}`));
  return item;
}

function tell({ text, drafts }, spoken) {
  const heard = spoken && text ? [make("p", { class: "soft" }, `heard: “${text}”`)] : [];
  const words = drafts.length ? make("ul", {}, ...drafts.map(shown)) : "Nothing would be drafted from that.";
  became.replaceChildren(...heard, words);
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  became.textContent = "Reading…";
  try {
    tell(await send("/help/try", { text: form.elements.text.value }), false);
  } catch (problem) {
    became.textContent = problem.message;
  }
});

// Talking: the browser gives its microphone to a page of this machine; the sound is heard here and not kept.
const talk = document.getElementById("talk");
let recorder = null;

async function begin() {
  const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
  recorder = new MediaRecorder(stream);
  const parts = [];
  recorder.addEventListener("dataavailable", (event) => parts.push(event.data));
  recorder.addEventListener("stop", async () => {
    for (const track of stream.getTracks()) track.stop();
    became.textContent = "Hearing…";
    const sound = new Blob(parts, { type: recorder.mimeType });
    const ending = recorder.mimeType.includes("mp4") ? "m4a" : recorder.mimeType.includes("ogg") ? "ogg" : "webm";
    try {
      tell(await send(`/help/hear?name=talk.${ending}`, sound), true);
    } catch (problem) {
      became.textContent = problem.message;
    }
  });
  recorder.start();
}

if (navigator.mediaDevices && window.MediaRecorder) {
  talk.hidden = false;
  talk.addEventListener("click", async () => {
    const on = recorder?.state === "recording";
    try {
      if (on) recorder.stop();
      else await begin();
    } catch {
      became.textContent = "The microphone was not given. Type the sentence instead.";
      return;
    }
    talk.setAttribute("aria-pressed", String(!on));
    talk.textContent = on ? "Talk instead" : "Stop, and hear it";
    if (!on) became.textContent = "Listening: say it as you would at the aircraft.";
  });
}

for (const button of document.querySelectorAll(".try")) {
  button.addEventListener("click", () => {
    form.elements.text.value = button.textContent;
    form.requestSubmit();
    form.scrollIntoView({ block: "nearest" });
  });
}
