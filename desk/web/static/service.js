// One service: print its draft entry, correct an entry, add what was never stated to a closed job, end a defect.
"use strict";

import { command, make, send, who } from "./desk.js";

document.addEventListener("keydown", (event) => {
  if (command(event) === "p") document.getElementById("print").click();
});

const here = document.getElementById("say");
const again = document.getElementById("again");
let asking = null; // what a doubtful value was sent with

async function give(url, body, say = here) {
  const by = who.value.trim();
  if (!by) {
    say.textContent = "Say first who is deciding, at the top of the page.";
    who.focus();
    return;
  }
  try {
    await send(url, { ...body, by });
    location.reload();
  } catch (problem) {
    say.textContent = problem.message;
    if (problem.told?.asks?.doubts) needs(url, body, problem.told.asks);
  }
}

/** Ask for a doubtful value once more, and why it is right. */
function needs(url, body, { value, doubts }) {
  asking = { url, body };
  again.querySelector(".asked").textContent = `${value} is doubtful. If it is right, type it once more and say why.`;
  again.querySelector(".doubts").replaceChildren(...doubts.map((doubt) => make("li", {}, doubt)));
  again.reset();
  again.hidden = false;
  again.elements.value.focus();
}

again.addEventListener("submit", (event) => {
  event.preventDefault();
  const { url, body } = asking;
  give(url, { ...body, ...Object.fromEntries(new FormData(again)), first: body.value });
});

for (const form of document.querySelectorAll("form[data-url]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    again.hidden = true;
    const body = Object.fromEntries(new FormData(form, event.submitter));
    const seen = form.elements.entry?.selectedOptions[0].dataset.seen;
    const say = document.getElementById(`${form.id}-say`) ?? here;
    give(form.dataset.url, seen ? { ...body, shown: JSON.parse(seen) } : body, say);
  });
}
