// What the desk understood, in large type: the newest first, what is asked, what is still to say, and bad news on top.
"use strict";

import { make } from "./desk.js";

const SHOWN = 12;
const here = (id) => document.getElementById(id);

const drawn = new Map();

/** Fill a list anew where it has changed; what is read aloud to a blind person is then said once. */
function fill(box, list, children, draw) {
  const as = JSON.stringify(children);
  if (drawn.get(list) === as) return;
  drawn.set(list, as);
  here(box).hidden = !children.length;
  here(list).replaceChildren(...children.map(draw));
}

function line({ text, doubt, was }) {
  const made = make("p", { class: doubt ? "line doubt" : "line" }, text);
  if (doubt) made.append(make("span", { class: "soft small" }, " Say it again."));
  return was ? [made, make("p", { class: "small" }, "before: ", make("s", {}, was))] : [made];
}

const HEADS = { asked: "? Which", nothing: "? Not understood", changed: "Changed", photo: "Photo", stopped: "Ended" };

export class Readback {
  /** `speaker` says it aloud; `stop` ends the listening. */
  constructor(speaker, stop) {
    Object.assign(this, { speaker, stop, items: new Map() });
  }

  /** Show an answer of the desk; `fresh` is false for what was told before, or long ago. */
  show(told, fresh) {
    for (const item of [...told.told].sort((a, b) => a.n - b.n)) {
      this.items.set(item.id, item);
      if (!fresh) continue;
      this.speaker.say(item.say);
      if (item.kind === "stopped") this.stop();
    }
    if (told.told.length) this.draw();
    fill("asked", "askedlist", told.doubtful, ({ text }) => make("li", {}, text));
    fill("adverse", "adverselist", told.adverse, ({ text, caution }) => make("li", {}, make("b", {}, `▲ ${text}`), " ", make("span", {}, caution)));
    fill("still", "stilllist", told.still, ({ text, must }) => make("li", must ? { class: "must" } : {}, text, ...(must ? [make("span", { class: "soft small" }, " must be said")] : [])));
    here("allsaid").hidden = !told.all_said;
    here("job").textContent = told.job;
    here("job").hidden = !told.job;
    here("problem").hidden = !told.problem;
    if (here("problem").textContent !== told.problem) here("problem").textContent = told.problem;
  }

  draw() {
    const items = [...this.items.values()].sort((a, b) => b.n - a.n).slice(0, SHOWN);
    const draw = (item) => {
      const head = make("p", { class: "soft small" }, [HEADS[item.kind], item.said_at].filter(Boolean).join(", "));
      return make("li", { class: item.kind }, head, ...item.lines.flatMap(line));
    };
    document.body.classList.toggle("having", items.length > 0);
    here("told").replaceChildren(...items.slice(0, 1).map(draw));
    fill("before", "beforelist", items.slice(1), draw);
  }
}
