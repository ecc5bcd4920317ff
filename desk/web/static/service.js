// One service: print its draft entry, correct an entry of a closed job.
"use strict";

import { command, send, who } from "./desk.js";

document.addEventListener("keydown", (event) => {
  if (command(event) === "p") document.getElementById("print").click();
});

const form = document.getElementById("correction");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const say = document.getElementById("say");
  const by = who.value.trim();
  if (!by) {
    say.textContent = "Say first who is deciding, at the top of the page.";
    who.focus();
    return;
  }
  try {
    await send(`/record/${document.body.dataset.job}/correct`, { ...Object.fromEntries(new FormData(form, event.submitter)), by });
    location.reload();
  } catch (problem) {
    say.textContent = problem.message;
  }
});
