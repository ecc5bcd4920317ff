// What was read off a photo of a report goes into the form, to be looked at beside the paper.
"use strict";

import { make } from "./desk.js";

const form = document.getElementById("report");

form.addEventListener("given", ({ detail }) => {
  if (!detail?.figures) return;
  for (const [symbol, figure] of Object.entries(detail.figures)) {
    const field = form.elements[symbol];
    if (field) field.value = figure;
  }
  const untaken = detail.left.map((line) => make("li", {}, `not taken: ${line}`));
  document.getElementById("untaken").replaceChildren(...untaken);
});
