// Before a job is closed: what is missing, adverse or waiting, and the reason to go on.
"use strict";

import { ask, make } from "./desk.js";

let seen = [];

/** Fill the form with what is left in the job now; a reason is asked for where anything is. */
export async function fill(form, job) {
  const { lines, told, adverse } = await ask(`/job/${job}/left`);
  seen = lines;
  const place = form.querySelector("#left");
  place.replaceChildren();
  for (const bad of adverse) {
    place.append(make("p", { class: "badnews" }, make("b", {}, `${bad.mark} ${bad.word}: ${bad.told}`), ` (${bad.shown}). `, make("span", { class: "caution" }, bad.caution)));
  }
  const rest = lines.filter((line) => /^(missing|waiting):/.test(line));
  if (rest.length) place.append(make("ul", {}, ...rest.map((line) => make("li", {}, line))));
  const because = form.elements.because;
  form.querySelector("#closebecause").hidden = because.disabled = !lines.length;
  because.required = lines.length > 0;
  return told;
}

/** Give what is sent: the lines that were shown, so that nothing else is closed. */
export const shown = () => ({ seen });
