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
let controls = new Map(); // what can be pressed now, by its key: each holds what it shows
let current = null;
let begged = null; // where to go back to when the name that was asked for is given
let asking = null; // what a refused value needs before it is sent again
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
  toCard();
}

/** Say which value is in hand, and bring its card to the eye. */
function toCard() {
  now.textContent = `${current.adverse ? `${current.adverse.mark} ` : ""}${current.label}: ${current.shown}`;
  const place = card(current.id);
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

/** Draw what can be chosen; a control sends the value that stands on it, whatever comes to be known meanwhile. */
function choices() {
  const list = document.getElementById("choices");
  list.replaceChildren();
  controls = new Map();
  if (closed) list.append(make("li", {}, `Closed by ${closed}; G opens its record, where a wrong value is corrected.`));
  else if (!current) {
    if (drafts.size) list.append(choice("L", "close the job", () => keys.l()));
    list.append(choice("G", "its record and draft entry", () => keys.g()));
  } else if (!waiting(current)) {
    const d = current;
    list.append(make("li", {}, d.told), choice("U", "take it back", () => undo(d)));
  } else {
    const d = current;
    const instead = d.stands ? ` in the place of ${d.stands}` : "";
    list.append(choice(careful(d) ? "1" : "Enter", `confirm ${d.seen.value}${instead}`, () => decide("confirm", d), "main"));
    d.alternatives.forEach((other, i) => {
      const why = other.why ? ` (${other.why})` : "";
      list.append(choice(i < 8 ? String(i + 2) : "", `${other.shown}${why}${instead}`, () => take(d, other)));
    });
  }
}

function choice(key, words, act, style = "") {
  const button = make("button", { type: "button", class: style }, ...(key ? [make("kbd", {}, key)] : []), ` ${words}`);
  button.addEventListener("click", act);
  if (key) controls.set(key, button);
  return make("li", {}, button);
}

/** Tell whether a value is not to go by on Enter: it is doubtful, bad news, or came back from a refusal. */
function careful(d) {
  return d.doubts.length > 0 || Boolean(d.adverse || d.returned);
}

function count() {
  const left = order();
  const doubtful = left.filter((d) => d.doubts.length).length;
  const waits = left.length ? `${left.length} waiting, ${doubtful} doubtful` : "none waiting";
  document.getElementById("count").textContent = onTheWay > 1 ? `${waits}, ${onTheWay} being entered` : waits;
  document.getElementById("by").textContent = who.value.trim() || "nobody yet";
}

/** Give who decides, or ask for the name; then the page returns to where it was. */
function person() {
  const by = who.value.trim();
  if (!by) {
    begged = document.activeElement;
    tell("Say first who is deciding.", true);
    who.focus();
  }
  return by;
}

document.addEventListener("named", () => {
  count();
  if (!begged || !who.value.trim()) return;
  const place = begged;
  begged = null;
  tell("");
  if (place.closest("form:not([hidden])")) place.focus();
  else if (current) toCard();
});

/** Send what was decided of a draft as it was shown; the next is shown while it goes. */
function decide(act, d, more = {}) {
  const by = person();
  if (!by || !d || closed || !drafts.has(d.id) || drafts.get(d.id).sending) return;
  // by its number: what is sent is what the control showed, even if the card has changed since
  const sending = drafts.get(d.id);
  sending.sending = true;
  refresh(sending);
  onTheWay += 1;
  if (act !== "undo") show(order()[0]?.id);
  sent = sent.then(async () => {
    try {
      const answer = await send(`/job/${job}/decide`, { act, id: d.id, by, shown: d.seen, ...more });
      landed(answer);
      if (act === "undo") {
        show(drafts.has(d.id) ? d.id : order()[0]?.id);
        tell(`${d.label}: ${d.shown} is taken back.`);
      }
      else {
        undone.push(d.id);
        tell(`${answer.label}: ${answer.state === "rejected" ? "rejected" : answer.shown}. U takes it back.`);
      }
    } catch (problem) {
      // its card shows how it stands now; what came back is looked at before it is confirmed
      const now = problem.told?.draft ?? await ask(`/draft/${d.id}`).catch(() => ({ ...d }));
      landed({ ...now, returned: true });
      show(d.id);
      if (problem.told?.asks) needs(problem, more, (all) => decide(act, { ...d, seen: drafts.get(d.id).seen }, all));
      else if (more.typed) open("amend", { value: more.value, because: more.because });
      tell(problem.message, true);
    }
    onTheWay -= 1;
    count();
  });
}

function landed({ others = [], ...d }) {
  others.forEach((other) => put(other));
  put(d);
  count();
  if (!current) choices();
}

function put(d) {
  if (!d.label && !drafts.has(d.id)) return;
  if (d.state === "retracted") {
    drafts.delete(d.id);
    card(d.id)?.remove();
    return;
  }
  drafts.set(d.id, { ...drafts.get(d.id), ...d, sending: false });
  refresh(drafts.get(d.id));
  if (current?.id !== d.id) return;
  current = drafts.get(d.id);
  now.textContent = `${current.label}: ${current.shown}`;
  choices();
}

function refresh(d) {
  const place = card(d.id);
  if (!place) return;
  place.classList.remove("waiting", "confirmed", "amended", "rejected", "doubtful", "sending");
  place.classList.add(d.sending ? "sending" : d.state);
  if (waiting(d) && d.doubts.length) place.classList.add("doubtful");
  place.querySelector(".value").replaceChildren(d.struck ? make("s", {}, d.shown) : d.shown);
  place.querySelector(".state").textContent = d.sending ? "… being entered" : d.told;
  place.querySelector(".heard").textContent = [d.typed ? "typed" : `“${d.heard}”`, d.sure].filter(Boolean).join(" · ");
  const [doubts, others] = [place.querySelector(".doubts"), place.querySelector(".others")];
  doubts.replaceChildren(...d.doubts.map((doubt) => make("li", {}, doubt)));
  doubts.hidden = !d.doubts.length;
  others.textContent = `or ${d.alternatives.map((o) => o.shown + (o.why ? ` (${o.why})` : "")).join(", ")}`;
  others.hidden = !d.alternatives.length;
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

function take(d, other) {
  decide("amend", d, { value: other.text, because: "chosen among the readings" });
}

/** Ask for what a refused value needs: to be given twice and with a reason, or a reason to replace. */
function needs(problem, more, again) {
  const { doubts = [], value = "", replaces } = problem.told.asks;
  asking = { more, again, replaces };
  const form = forms.again;
  const [head, list] = form.querySelectorAll(".asked");
  list.replaceChildren(...doubts.map((doubt) => make("li", {}, doubt)));
  if (replaces) {
    const from = replaces.media ? ` in ${replaces.media}` : "";
    head.replaceChildren(
      `${replaces.label} is entered as `, make("a", { href: replaces.href }, replaces.shown),
      ` by ${replaces.by}, from “${replaces.heard}”${from}. Both stay to be seen.`,
    );
  } else head.textContent = `${value} is doubtful. If it is right, type it once more and say why.`;
  for (const [name, used] of [["value", !replaces], ["although", !replaces], ["because", Boolean(replaces)]]) {
    const field = form.elements[name];
    field.value = "";
    field.required = used;
    field.disabled = !used;
    field.closest("label").hidden = !used;
  }
  open("again");
}

function giveAgain(form) {
  const { more, again, replaces } = asking;
  const told = values(form);
  if (replaces) again({ ...more, replaces: replaces.entry, because: told.because });
  else again({ ...more, first: more.value, value: told.value, although: told.although });
}

function open(name, fill = {}) {
  hideForms();
  const form = forms[name];
  form.hidden = false;
  form.shown = current; // what it was opened for, whatever comes to be known meanwhile
  for (const [key, value] of Object.entries(fill)) form.elements[key].value = value;
  const first = form.querySelector("input:enabled, select, button");
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
  if (!current) return;
  const { id, name, position } = current;
  try {
    const { value } = await send(`/job/${job}/read`, { name, position, words: heard });
    if (current?.id === id) open("amend", { value, because: `the words “${heard}”` });
  } catch (problem) {
    tell(problem.message, true);
  }
}

/** Take back the decision on a card as it was shown, else the last one of this page. */
async function undo(d = null) {
  await sent;
  if (d) return decide("undo", d);
  let id = undone.pop();
  while (id !== undefined && (drafts.get(id)?.state ?? "waiting") === "waiting") id = undone.pop(); // taken back already
  if (id === undefined) return tell("Nothing was decided on this page yet; J walks to what was decided before.");
  current = drafts.get(id);
  return decide("undo", current);
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

const unsure = () => {
  if (current.doubts.length) return tell("This one is doubtful: choose by its number, or type what is right with E.", true);
  if (current.adverse) return tell("This is bad news: 1 confirms it, E types what is right.", true);
  return tell("This one came back: look at it, then choose by its number.", true);
};
const main = () => (controls.get("1") ?? controls.get("Enter")).click();
const changing = {
  Enter: () => (controls.has("Enter") ? main() : unsure()),
  1: main,
  e: () => open("amend", { value: current.text, because: "" }),
  r: () => open("reject"),
};
for (let i = 2; i < 10; i += 1) changing[i] = () => controls.get(String(i))?.click();

const keys = {
  a: () => !closed && open("add"),
  u: () => !closed && (controls.get("U") ? controls.get("U").click() : undo()),
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
    tell("");
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
window.addEventListener("beforeunload", (event) => { if (onTheWay) event.preventDefault(); });

const values = (form) => Object.fromEntries(new FormData(form));

function add(body) {
  return submit(`/job/${job}/add`, body, ({ draft }) => {
    history.replaceState(null, "", `#draft-${draft}`);
    location.reload();
  });
}

/** Send a form that changes more than one card, and go on from what it made. */
async function submit(url, body, then) {
  const by = person();
  if (!by) return;
  await sent;
  try {
    then(await send(url, { ...body, by }));
  } catch (problem) {
    if (problem.told?.asks) needs(problem, body, add);
    tell(problem.message, true);
  }
}

const submits = {
  amend: (form) => decide("amend", form.shown, { ...values(form), typed: true }),
  reject: (form) => decide("reject", form.shown, values(form)),
  again: giveAgain,
  add: (form) => add(values(form)),
  close: (form) => submit(`/job/${job}/close`, { ...values(form), ...closing.shown() }, () => { window.location = `/record/${job}`; }),
};
for (const form of Object.values(forms)) {
  form.addEventListener("submit", (event) => { event.preventDefault(); submits[form.id](form); });
}

document.querySelectorAll(".draft").forEach((place) => place.addEventListener("click", () => show(Number(place.dataset.id))));
// the keys are out of the way until they are asked for, and stay as they were left
const keysShown = document.getElementById("keys");
keysShown.open = localStorage.getItem("keys") === "open";
keysShown.addEventListener("toggle", () => localStorage.setItem("keys", keysShown.open ? "open" : ""));
const asked = () => Number(/^#draft-(\d+)$/.exec(location.hash)?.[1]);
window.addEventListener("hashchange", () => { if (drafts.has(asked())) show(asked()); });
show(drafts.has(asked()) ? asked() : order()[0]?.id);
