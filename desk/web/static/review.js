// Review by keyboard: each draft beside its evidence, the doubtful ones first.
"use strict";

import { ask, command, make, send, who } from "./desk.js";
import * as closing from "./closing.js";
import { Marks } from "./marks.js";
import { Memo } from "./sound.js";

const { job, closed } = document.body.dataset;
const drafts = new Map(JSON.parse(document.getElementById("drafts").textContent).map((d) => [d.id, d]));
const memos = new Map([...document.querySelectorAll(".piece[data-kind=memo]")].map((p) => [p.dataset.media, new Memo(p)]));
const bar = document.getElementById("bar");
const say = document.getElementById("say");
const now = document.getElementById("now");
const forms = Object.fromEntries([...bar.querySelectorAll("form")].map((form) => [form.id, form]));
const letters = document.getElementById("letters");
const undone = [];
let current = null;
let sent = Promise.resolve(); // decisions go one after the other
let onTheWay = 0;

const card = (id) => document.getElementById(`draft-${id}`);
const waiting = (d) => d.state === "waiting" && !d.sending;
const order = () => [...drafts.values()].filter(waiting).sort((a, b) => careful(b) - careful(a) || a.order - b.order);
const marks = new Marks(() => [memos.get(current?.media), current], tell);

function tell(words, urgent = false) {
  say.textContent = words;
  say.classList.toggle("warn", urgent);
}

function show(id) {
  for (const old of document.querySelectorAll(".draft.current, .words .current")) old.classList.remove("current");
  hideForms();
  memos.forEach((memo) => memo.stop());
  marks.clear();
  current = drafts.get(id) ?? null;
  count();
  choices();
  if (!current) {
    now.textContent = drafts.size ? "Everything is decided." : "There is nothing to decide.";
    return;
  }
  now.textContent = `${current.adverse ? `${current.adverse.mark} ` : ""}${current.label}: ${current.shown}`;
  const place = card(id);
  place.classList.add("current");
  place.focus({ preventScroll: true });
  const room = window.innerHeight - bar.offsetHeight;
  document.documentElement.style.setProperty("--bar", `${bar.offsetHeight}px`);
  // on a narrow screen the evidence lies above its values, and is to be seen with them
  const fits = window.innerWidth > 768 ? "center" : "end";
  place.scrollIntoView({ block: place.offsetHeight < room ? fits : "start", behavior: "instant" });
  const memo = memos.get(current.media);
  memo?.draw();
  memo?.span(current.start, current.end).forEach((w) => w.classList.add("current"));
}

function choices() {
  const list = document.getElementById("choices");
  list.replaceChildren();
  if (closed) list.append(make("li", {}, `Closed by ${closed}; G opens its record, where a wrong value is corrected.`));
  else if (!current) {
    if (drafts.size) list.append(choice("L", "close the job", () => keys.l()));
    list.append(choice("G", "its record and draft entry", () => keys.g()));
  } else if (!waiting(current)) {
    list.append(make("li", {}, `${current.state} by ${current.by}`), choice("U", "take it back", () => undo()));
  } else {
    list.append(choice(careful(current) ? "1" : "Enter", `confirm ${current.shown}`, () => decide("confirm"), "main"));
    current.alternatives.forEach((other, i) => {
      list.append(choice(i < 8 ? String(i + 2) : "", `${other.shown}${other.why ? ` (${other.why})` : ""}`, () => take(i)));
    });
  }
}

function choice(key, words, act, style = "") {
  const button = make("button", { type: "button", class: style }, ...(key ? [make("kbd", {}, key)] : []), ` ${words}`);
  button.addEventListener("click", act);
  return make("li", {}, button);
}

function count() {
  const left = order();
  const doubtful = left.filter((d) => d.doubts.length).length;
  const waits = left.length ? `${left.length} waiting, ${doubtful} doubtful` : "none waiting";
  document.getElementById("count").textContent = onTheWay > 1 ? `${waits}, ${onTheWay} being entered` : waits;
  document.getElementById("by").textContent = who.value.trim() || "nobody yet";
}

/** Give who decides, or ask for the name. */
function person() {
  const by = who.value.trim();
  if (!by) {
    tell("Say first who is deciding.", true);
    who.focus();
  }
  return by;
}

/** Send what was decided of the current draft; the next is shown while it goes. */
function decide(act, more = {}) {
  const by = person();
  const d = current;
  if (!by || !d || closed) return;
  d.sending = true;
  refresh(d);
  onTheWay += 1;
  if (act !== "undo") show(order()[0]?.id);
  sent = sent.then(async () => {
    try {
      const answer = await send(`/job/${job}/decide`, { act, id: d.id, by, ...more });
      landed(answer);
      if (act === "undo") show(d.id);
      else {
        undone.push(d.id);
        tell(`${answer.label}: ${answer.state === "rejected" ? "rejected" : answer.shown}. U takes it back.`);
      }
    } catch (problem) {
      // another page may have decided it: its card shows how it stands now
      landed(await ask(`/draft/${d.id}`).catch(() => ({ ...d })));
      show(d.id);
      if (more.typed) open("amend", { value: more.value, because: more.because });
      tell(problem.message, true);
    }
    onTheWay -= 1;
    count();
  });
}

function landed(d) {
  drafts.set(d.id, { ...drafts.get(d.id), ...d, sending: false });
  refresh(drafts.get(d.id));
  count();
  if (current?.id === d.id) current = drafts.get(d.id);
  if (!current) choices();
}

function refresh(d) {
  const place = card(d.id);
  place.classList.remove("waiting", "confirmed", "amended", "rejected", "doubtful", "sending");
  place.classList.add(d.sending ? "sending" : d.state);
  if (waiting(d) && d.doubts.length) place.classList.add("doubtful");
  place.querySelector(".value").textContent = d.shown;
  place.querySelector(".state").textContent = d.sending ? "… being entered" : d.told;
  badNews(place, d.adverse);
}

/** Say on a card what is adverse about its value as it stands now. */
function badNews(place, adverse) {
  const words = place.querySelector(".badnews");
  place.classList.toggle("adverse", Boolean(adverse));
  words.hidden = !adverse;
  words.replaceChildren();
  if (!adverse) return;
  const why = adverse.why ? `, ${adverse.why}` : "";
  words.append(make("b", {}, `${adverse.mark} ${adverse.word}: ${adverse.told}${why}`), " ", make("span", { class: "caution" }, adverse.caution));
}

function take(index) {
  const other = current.alternatives[index];
  if (other) decide("amend", { value: other.text, because: "chosen among the readings" });
}

function open(name, fill = {}) {
  hideForms();
  const form = forms[name];
  form.hidden = false;
  for (const [key, value] of Object.entries(fill)) form.elements[key].value = value;
  const first = form.querySelector("input, select, button");
  first.focus();
  first.select?.();
}

function hideForms() {
  Object.values(forms).forEach((form) => { form.hidden = true; });
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

async function readMarked() {
  const heard = marks.words();
  if (!heard) return tell("Mark words first, with the left and right arrows.");
  const { id, name, position } = current;
  try {
    const { value } = await send(`/job/${job}/read`, { name, position, words: heard });
    if (current?.id === id) open("amend", { value, because: `the words “${heard}”` });
  } catch (problem) {
    tell(problem.message, true);
  }
}

async function undo() {
  await sent;
  let id = current && current.state !== "waiting" ? current.id : undone.pop();
  while (drafts.get(id)?.state === "waiting") id = undone.pop(); // taken back already
  if (id === undefined) return tell("Nothing was decided on this page yet; J walks to what was decided before.");
  current = drafts.get(id);
  decide("undo");
}

async function close() {
  await sent;
  try {
    const left = await closing.fill(forms.close, job);
    open("close");
    if (left) tell(`This job is not whole: ${left}.`, true);
  } catch (problem) {
    tell(problem.message, true);
  }
}

const careful = (d) => d.doubts.length > 0 || Boolean(d.adverse); // neither goes by on Enter
const unsure = () => tell(current.doubts.length ? "This one is doubtful: choose by its number, or type what is right with E." : "This is bad news: 1 confirms it, E types what is right.", true);
const changing = {
  Enter: () => (careful(current) ? unsure() : decide("confirm")),
  1: () => decide("confirm"),
  e: () => open("amend", { value: current.text, because: "" }),
  r: () => open("reject"),
};
for (let i = 0; i < 8; i += 1) changing[i + 2] = () => take(i);

const keys = {
  a: () => !closed && open("add"),
  u: () => !closed && undo(),
  l: () => {
    if (closed) return;
    if (person()) close();
  },
  g: async () => { await sent; window.location = `/record/${job}`; },
  t: readMarked,
  " ": play,
  j: () => step(1),
  k: () => step(-1),
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  w: () => { who.focus(); who.select(); },
};

function press(key) {
  if (changing[key]) {
    if (closed || !current || !waiting(current)) return false;
    changing[key]();
  } else if (keys[key]) keys[key]();
  else return false;
  return true;
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    hideForms();
    card(current?.id)?.focus({ preventScroll: true });
    return;
  }
  const key = command(event);
  // a key held down decides once
  if (event.repeat && changing[key]) event.preventDefault();
  else if (key === "ArrowLeft" || key === "ArrowRight") {
    event.preventDefault();
    marks.move(key === "ArrowLeft" ? -1 : 1, event.shiftKey);
  } else if (press(key)) event.preventDefault();
});

bar.querySelectorAll("[data-key]").forEach((button) => button.addEventListener("click", () => press(button.dataset.key)));
letters.checked = localStorage.getItem("letters") !== "off";
letters.addEventListener("change", () => localStorage.setItem("letters", letters.checked ? "on" : "off"));
document.addEventListener("named", count);
window.addEventListener("beforeunload", (event) => { if (onTheWay) event.preventDefault(); });

const values = (form) => Object.fromEntries(new FormData(form));

/** Send a form that changes more than one card, and go on from what it made. */
async function submit(url, body, then) {
  const by = person();
  if (!by) return;
  await sent;
  try {
    then(await send(url, { ...body, by }));
  } catch (problem) {
    tell(problem.message, true);
  }
}

const submits = {
  amend: (form) => decide("amend", { ...values(form), typed: true }),
  reject: (form) => decide("reject", values(form)),
  add: (form) => submit(`/job/${job}/add`, values(form), ({ draft }) => {
    history.replaceState(null, "", `#draft-${draft}`);
    location.reload();
  }),
  close: (form) => submit(`/job/${job}/close`, { ...values(form), ...closing.shown() }, () => { window.location = `/record/${job}`; }),
};
for (const form of Object.values(forms)) {
  form.addEventListener("submit", (event) => { event.preventDefault(); submits[form.id](form); });
}

document.querySelectorAll(".draft").forEach((place) => place.addEventListener("click", () => show(Number(place.dataset.id))));
if (window.matchMedia("(max-width: 48rem), (max-height: 34rem)").matches) document.getElementById("keys").open = false;
const asked = () => Number(/^#draft-(\d+)$/.exec(location.hash)?.[1]);
window.addEventListener("hashchange", () => { if (drafts.has(asked())) show(asked()); });
show(drafts.has(asked()) ? asked() : order()[0]?.id);
