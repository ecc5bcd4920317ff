// One service: print its draft entry, correct an entry of a closed job, end a defect.
"use strict";

import { command, send, who } from "./desk.js";

document.addEventListener("keydown", (event) => {
  if (command(event) === "p") document.getElementById("print").click();
});

// Sends a form in the name of the person at the top of the page, and shows what came of it.
const sends = (id, sayId, where) => document.getElementById(id)?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const say = document.getElementById(sayId);
  const by = who.value.trim();
  if (!by) {
    say.textContent = "Say first who is deciding, at the top of the page.";
    who.focus();
    return;
  }
  try {
    await send(`/record/${document.body.dataset.job}/${where}`, { ...Object.fromEntries(new FormData(event.target, event.submitter)), by });
    location.reload();
  } catch (problem) {
    say.textContent = problem.message;
  }
});
sends("correction", "say", "correct");
sends("became", "became-say", "defect");
