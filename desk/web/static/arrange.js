// Putting files and jobs where they belong, each step in the name of a person.
"use strict";

import { send, who } from "./desk.js";

const { job } = document.body.dataset;
const form = document.getElementById("files");
const say = document.getElementById("say");

function tell(words) {
  say.textContent = words;
  say.className = "notice warn";
  say.scrollIntoView({ block: "nearest" });
}

function wanted(act, whole) {
  const chosen = [...form.querySelectorAll("[name=file]:checked")].map((box) => Number(box.value));
  const { because, to, shift, kind, aircraft, into } = form.elements;
  const reason = because.value.trim();
  const files = whole || ["kind", "aircraft", "join"].includes(act) ? [] : chosen;
  if (["move", "clock"].includes(act) || (!whole && ["aside", "back"].includes(act))) {
    if (!chosen.length) throw new Error("Choose files first.");
  }
  if (act === "aside" && !reason) {
    because.focus();
    throw new Error("Setting aside needs a reason: write it under Because.");
  }
  const value = { kind, aircraft, clock: shift }[act]?.value ?? "";
  const where = act === "join" ? Number(into.value) : to.value === "new" ? "new" : Number(to.value);
  return { act, files, because: reason, value, to: where };
}

async function go(button) {
  const by = who.value.trim();
  try {
    if (!by) {
      who.focus();
      throw new Error("Say first who is deciding.");
    }
    const done = await send(`/job/${job}/arrange`, { ...wanted(button.dataset.act, button.dataset.whole), by });
    const back = done.taken_back ? ` ${done.taken_back} decided values wait again.` : "";
    const others = done.jobs.filter((n) => n !== Number(job));
    sessionStorage.setItem("arranged", `Done.${back}${others.length ? ` See also job ${others.join(", ")}.` : ""}`);
    window.location.reload();
  } catch (problem) {
    tell(problem.message);
  }
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("click", (event) => {
  const button = event.target.closest("[data-act]");
  if (button) go(button);
});

const done = sessionStorage.getItem("arranged");
sessionStorage.removeItem("arranged");
if (done) {
  say.className = "notice";
  say.textContent = done;
}
