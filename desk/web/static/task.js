// Long work begun by a button: how far it is, and how it ended. <section data-task="name">.
"use strict";

import { ask, make, send } from "./desk.js";

const LOOK_MS = 700;

for (const place of document.querySelectorAll("[data-task]")) {
  const { task } = place.dataset;
  const say = place.querySelector("[role=status]") ?? place.appendChild(make("p", { role: "status" }));
  const bar = place.querySelector("progress") ?? say.insertAdjacentElement("afterend", make("progress", { max: "1", "aria-label": "how much is done" }));
  const list = place.appendChild(make("ul", { class: "lines" }));
  bar.hidden = true;

  const left = place.querySelector("[data-damaged]"); // what can be done all the same, where it was refused for these

  const show = ({ words, share, going, failed, lines, damaged }) => {
    say.textContent = words;
    say.classList.toggle("warn", failed);
    bar.hidden = !going;
    if (share === null) bar.removeAttribute("value");
    else bar.value = share;
    if (left) {
      left.hidden = !damaged.length;
      left.querySelector("ul").replaceChildren(...damaged.map((name) => make("li", {}, name)));
    }
    list.replaceChildren(...lines.map((line) => make("li", {}, line)));
    return going;
  };

  const follow = async () => {
    for (;;) {
      const now = await ask(`/task/${task}`);
      if (!show(now)) {
        place.dispatchEvent(new CustomEvent("ended", { detail: now, bubbles: true }));
        if (!now.failed && place.dataset.then === "reload") location.reload();
        return;
      }
      await new Promise((done) => { setTimeout(done, LOOK_MS); });
    }
  };

  place.addEventListener("given", () => follow());
  for (const button of place.querySelectorAll("button[data-begin]")) {
    button.addEventListener("click", async () => {
      try {
        await send(button.dataset.begin, {});
        await follow();
      } catch (problem) {
        say.textContent = problem.message;
        say.classList.add("warn");
      }
    });
  }
  if (place.dataset.going === "1") follow();
}
