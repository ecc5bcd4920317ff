// The kind of a job: offered from what was said, and one key to change.
"use strict";

import { command, send, who } from "./desk.js";

const { job } = document.body.dataset;
const form = document.getElementById("kind");

async function change() {
  const say = document.getElementById("kindsay");
  const by = who.value.trim();
  if (!by) {
    say.textContent = "Say first who is deciding.";
    who.focus();
    return;
  }
  try {
    await send(`/job/${job}/arrange`, { act: "kind", value: form.elements.kind.value, by });
    window.location.reload();
  } catch (problem) {
    say.textContent = problem.message;
  }
}

const choice = form?.elements.kind; // a closed job has none
if (choice) {
  form.addEventListener("submit", (event) => { event.preventDefault(); change(); });
  choice.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault(); // a select would open on it
      change();
    } else if (event.key === "Escape") choice.blur();
  });
  document.addEventListener("keydown", (event) => {
    if (command(event) !== "c") return;
    event.preventDefault();
    choice.scrollIntoView({ block: "nearest" });
    choice.focus();
  });
}
