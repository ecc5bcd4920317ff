// The phone in the hangar: two targets, a line for each file, and nothing lost on the way.
"use strict";

import { make } from "./desk.js";
import { upload } from "./upload.js";

const list = document.getElementById("sent");
const state = document.getElementById("state");
let under = 0;

async function take(file) {
  const note = make("span", {}, "waiting");
  list.prepend(make("li", {}, make("span", {}, file.name), note));
  under += 1;
  tell();
  try {
    await upload(file, (share, words) => { note.textContent = `${words} ${Math.round(share * 100)} %`; });
    note.textContent = "✓ safe on the desk";
  } catch (problem) {
    note.textContent = `✗ ${problem.message}`;
  }
  under -= 1;
  tell();
}

function tell() {
  state.textContent = under ? `${under} on the way: leave this page open` : "Everything sent is safe on the desk.";
}

window.addEventListener("beforeunload", (event) => { if (under) event.preventDefault(); });

for (const input of document.querySelectorAll(".target input")) {
  input.addEventListener("change", async () => {
    const files = [...input.files];
    for (const file of files) await take(file);
    input.value = "";
  });
}
