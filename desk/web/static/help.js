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

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  became.textContent = "Reading…";
  try {
    const { drafts } = await send("/help/try", { text: form.elements.text.value });
    if (drafts.length) became.replaceChildren(make("ul", {}, ...drafts.map(shown)));
    else became.textContent = "Nothing would be drafted from that.";
  } catch (problem) {
    became.textContent = problem.message;
  }
});

for (const button of document.querySelectorAll(".try")) {
  button.addEventListener("click", () => {
    form.elements.text.value = button.textContent;
    form.requestSubmit();
    form.scrollIntoView({ block: "nearest" });
  });
}
