// Any form that says where it goes (data-send): its fields are sent as one object, with who decides; a
// form with data-file sends its file first. What comes back is said beside it, or the page goes on.
"use strict";

import { send, who } from "./desk.js";

function said(form) {
  const own = form.querySelector("[role=status]") ?? form.closest("[data-task]")?.querySelector("[role=status]");
  return own ?? document.getElementById("said");
}

function tell(form, words, bad = false) {
  const place = said(form);
  place.textContent = words;
  place.classList.toggle("warn", bad);
}

/** Mark the fields that will not do, each with its own words, and go to the first. */
function mark(form, wrong) {
  for (const old of form.querySelectorAll("[aria-invalid]")) old.removeAttribute("aria-invalid");
  for (const old of form.querySelectorAll(".wrong")) old.remove();
  let first = null;
  for (const [name, words] of Object.entries(wrong)) {
    const field = form.elements[name];
    if (!field) continue;
    const note = document.createElement("span");
    note.className = "wrong";
    note.id = `wrong-${name}`;
    note.textContent = words;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", note.id);
    field.insertAdjacentElement("afterend", note);
    first ??= field;
  }
  first?.focus();
}

async function give(form, submitter) {
  const body = Object.fromEntries([...new FormData(form, submitter)].filter(([, value]) => typeof value === "string"));
  if (form.dataset.named !== undefined) {
    body.by = who.value.trim();
    if (!body.by) {
      tell(form, "Say first who is deciding, at the top of the page.", true);
      who.focus();
      return;
    }
  }
  if (submitter?.dataset.ask && !confirm(submitter.dataset.ask)) return;
  for (const button of form.querySelectorAll("button")) button.disabled = true;
  tell(form, form.dataset.busy ?? "");
  try {
    const file = form.querySelector("input[type=file]")?.files[0];
    const url = submitter?.dataset.send ?? form.dataset.send;
    const back = file
      ? await send(`${url}?${new URLSearchParams({ ...body, name: file.name })}`, file)
      : await send(url, body);
    mark(form, {});
    if (back?.to) location.assign(back.to);
    else if (back?.words) tell(form, back.words);
    else location.reload();
    form.dispatchEvent(new CustomEvent("given", { detail: back, bubbles: true }));
  } catch (problem) {
    tell(form, problem.message, true);
    if (problem.told?.wrong) mark(form, problem.told.wrong);
  } finally {
    for (const button of form.querySelectorAll("button")) button.disabled = false;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-send]");
  if (!form) return;
  event.preventDefault();
  give(form, event.submitter);
});

for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => print());
