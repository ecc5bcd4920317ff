// Review by keyboard: each draft beside its evidence, the doubtful ones first.
"use strict";

import { make, send, who } from "./desk.js";
import { Memo } from "./sound.js";

const job = document.body.dataset.job;
const drafts = new Map(JSON.parse(document.getElementById("drafts").textContent).map((d) => [d.id, d]));
const memos = new Map([...document.querySelectorAll(".piece[data-kind=memo]")].map((p) => [p.dataset.media, new Memo(p)]));
const bar = document.getElementById("bar");
const say = document.getElementById("say");
const forms = Object.fromEntries([...bar.querySelectorAll("form")].map((form) => [form.id, form]));
const undone = [];
let current = null;
let marked = null; // the words a person marked, as [first, last] of the current memo

const card = (id) => document.getElementById(`draft-${id}`);
const waiting = (d) => d.state === "waiting";
const order = () => [...drafts.values()].filter(waiting).sort((a, b) => (b.doubts.length > 0) - (a.doubts.length > 0) || a.order - b.order);

function tell(words, urgent = false) {
  say.textContent = words;
  say.classList.toggle("warn", urgent);
}

function show(id) {
  for (const old of document.querySelectorAll(".draft.current, .words .current, .words .chosen")) old.classList.remove("current", "chosen");
  Object.values(forms).forEach((form) => { form.hidden = true; });
  memos.forEach((memo) => memo.stop());
  marked = null;
  current = drafts.get(id) ?? null;
  count();
  if (!current) {
    document.getElementById("now").textContent = drafts.size ? "Nothing is waiting." : "There is nothing to decide.";
    document.getElementById("choices").replaceChildren();
    return;
  }
  const place = card(id);
  place.classList.add("current");
  place.setAttribute("tabindex", "-1");
  place.focus({ preventScroll: true });
  place.scrollIntoView({ block: "center", behavior: "auto" });
  const memo = memos.get(current.media);
  if (memo) {
    memo.draw();
    memo.words.filter((w) => Number(w.dataset.e) > current.start && Number(w.dataset.s) < current.end).forEach((w) => w.classList.add("current"));
  }
  document.getElementById("now").textContent = `${current.label}: ${current.shown}`;
  choices();
}

function choices() {
  const list = document.getElementById("choices");
  list.replaceChildren();
  if (!waiting(current)) {
    list.append(make("li", {}, `${current.state} by ${current.by}. `, make("kbd", {}, "U"), " undo"));
    return;
  }
  if (!current.doubts.length) list.append(choice("Enter", `confirm ${current.shown}`, () => decide("confirm")));
  else {
    list.append(choice("1", `confirm ${current.shown}`, () => decide("confirm")));
    current.alternatives.forEach((other, i) => list.append(choice(String(i + 2), `${other.shown}${other.why ? ` (${other.why})` : ""}`, () => take(i))));
  }
}

function choice(key, words, act) {
  const button = make("button", { type: "button" }, make("kbd", {}, key), ` ${words}`);
  button.addEventListener("click", act);
  return make("li", {}, button);
}

function count() {
  const left = order();
  const doubtful = left.filter((d) => d.doubts.length).length;
  document.getElementById("count").textContent = left.length ? `${left.length} waiting, ${doubtful} doubtful` : "all decided";
}

async function decide(act, more = {}) {
  const by = who.value.trim();
  if (!by) {
    tell("Say first who is deciding.", true);
    who.focus();
    return;
  }
  const id = current.id;
  try {
    const answer = await send(`/job/${job}/decide`, { act, id, by, ...more });
    refresh(answer);
    if (act === "undo") show(id);
    else {
      undone.push(id);
      tell(`${answer.label}: ${answer.state === "rejected" ? "rejected" : answer.shown}. U takes it back.`);
      show(order()[0]?.id);
    }
  } catch (problem) {
    tell(problem.message, true);
  }
}

function refresh(d) {
  drafts.set(d.id, { ...drafts.get(d.id), ...d });
  const place = card(d.id);
  place.classList.remove("waiting", "confirmed", "amended", "rejected", "doubtful");
  place.classList.add(d.state);
  if (d.state === "waiting" && d.doubts.length) place.classList.add("doubtful");
  place.querySelector(".value").textContent = d.shown;
  place.querySelector(".state").textContent = d.state === "waiting" ? "" : `${d.sign} ${d.state} by ${d.by}`;
}

function take(index) {
  const other = current.alternatives[index];
  if (other) decide("amend", { value: other.text, because: "chosen among the readings" });
}

function open(name, fill = {}) {
  Object.values(forms).forEach((form) => { form.hidden = form.id !== name; });
  const form = forms[name];
  for (const [key, value] of Object.entries(fill)) form.elements[key].value = value;
  const first = form.querySelector("input, select");
  first.focus();
  first.select?.();
}

function close() {
  Object.values(forms).forEach((form) => { form.hidden = true; });
  card(current?.id)?.focus({ preventScroll: true });
}

function step(by) {
  const all = [...order(), ...[...drafts.values()].filter((d) => !waiting(d))];
  const at = all.findIndex((d) => d.id === current?.id);
  if (all.length) show(all[Math.max(0, Math.min(all.length - 1, at + by))].id);
}

function play() {
  const memo = memos.get(current?.media);
  if (!memo || current.start === null) return tell("This one has no sound; look at the picture beside it.");
  memo.play(current.start, current.end).catch((problem) => tell(problem.message, true));
}

/** Mark words of the current memo with the arrow keys: plain moves, shift widens. */
function mark(by, widen) {
  const memo = memos.get(current?.media);
  if (!memo?.words.length) return;
  if (!marked) {
    const first = Math.max(0, memo.words.findIndex((w) => Number(w.dataset.e) > current.start));
    marked = [first, first];
  } else {
    const to = Math.max(0, Math.min(memo.words.length - 1, marked[1] + by));
    marked = widen ? [marked[0], to] : [to, to];
  }
  const [a, b] = [...marked].sort((x, y) => x - y);
  memo.words.forEach((w, i) => w.classList.toggle("chosen", i >= a && i <= b));
  tell("Left and right move the mark, with shift they widen it; T reads the marked words.");
}

async function readMarked() {
  const memo = memos.get(current?.media);
  if (!marked) return tell("Mark words first, with the left and right arrows.");
  const [a, b] = [...marked].sort((x, y) => x - y);
  const heard = memo.words.slice(a, b + 1).map((w) => w.textContent).join(" ");
  try {
    const { value } = await send(`/job/${job}/read`, { name: current.name, position: current.position, words: heard });
    open("amend", { value, because: `the words “${heard}”` });
  } catch (problem) {
    tell(problem.message, true);
  }
}

function undo() {
  const id = current && !waiting(current) ? current.id : undone.pop();
  if (id === undefined) return tell("Nothing was decided on this page yet.");
  current = drafts.get(id);
  decide("undo");
}

const keys = {
  Enter: () => {
    if (!current || !waiting(current)) return;
    if (current.doubts.length) tell("This one is doubtful: choose by its number, or type what is right with E.", true);
    else decide("confirm");
  },
  c: () => keys.Enter(),
  e: () => current && waiting(current) && open("amend", { value: current.text, because: "" }),
  r: () => current && waiting(current) && open("reject"),
  a: () => open("add"),
  u: undo,
  t: readMarked,
  " ": play,
  j: () => step(1),
  k: () => step(-1),
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  w: () => who.focus(),
};

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    close();
    return;
  }
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, select, textarea, summary, a")) return;
  if (event.target.closest("button") && ["Enter", " "].includes(event.key)) return;
  if (/^[1-9]$/.test(event.key) && current && waiting(current) && current.doubts.length) {
    event.preventDefault();
    if (event.key === "1") decide("confirm");
    else take(Number(event.key) - 2);
  } else if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
    event.preventDefault();
    mark(event.key === "ArrowLeft" ? -1 : 1, event.shiftKey);
  } else if (keys[event.key]) {
    event.preventDefault();
    keys[event.key]();
  }
});

forms.amend.addEventListener("submit", (event) => {
  event.preventDefault();
  decide("amend", Object.fromEntries(new FormData(forms.amend)));
});
forms.reject.addEventListener("submit", (event) => {
  event.preventDefault();
  decide("reject", Object.fromEntries(new FormData(forms.reject)));
});
forms.add.addEventListener("submit", async (event) => {
  event.preventDefault();
  const by = who.value.trim();
  if (!by) {
    tell("Say first who is deciding.", true);
    who.focus();
    return;
  }
  try {
    await send(`/job/${job}/add`, { ...Object.fromEntries(new FormData(forms.add)), by });
    location.reload();
  } catch (problem) {
    tell(problem.message, true);
  }
});

document.querySelectorAll(".draft").forEach((place) => place.addEventListener("click", () => show(Number(place.dataset.id))));
show(order()[0]?.id);
