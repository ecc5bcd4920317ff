// The phone at the aircraft: it listens, sends, and shows and says what was understood.
"use strict";

import { make } from "./desk.js";
import { listen, unable, wavHead } from "./hands.js";
import { newKey, open } from "./keep.js";
import { follow, Sender } from "./sending.js";
import { Readback } from "./readback.js";
import { Speaker } from "./speak.js";

const here = (id) => document.getElementById(id);
const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
const LARGE = 64 * 1024 * 1024; // a file that lies on the phone already is not kept twice
const QUIET_MS = 2000; // what is said while the phone speaks is not heard, so it waits until a person is done

let kept = null;
let sender = null;
let ears = null; // the microphone, while it is open
let starting = false;
let memo = null; // what is being spoken
let voice = { on: false, last: 0, since: Date.now() };
let order = Date.now();
const away = { send: "", told: "" };

function lost(words) {
  here("lost").hidden = !words;
  here("lost").textContent = words;
}

/** Set words only where they are others: what is read aloud to a blind person is said once. */
function put(id, words) {
  if (here(id).textContent !== words) here(id).textContent = words;
}

/* what is kept and sent */

function chain(work) { // pieces are kept in the order in which they came
  chain.last = (chain.last ?? Promise.resolve()).then(work).catch((problem) => {
    if (ears) stop(); // what comes after would be glued to what came before
    lost(`The phone could not keep it (${problem?.name || problem}). Free some space on it, and say it again.`);
  });
  return chain.last;
}

function thing(about) {
  order += 1;
  return { key: newKey(), name: undefined, type: "", began: undefined, modified: undefined, held: 0, closed: false, order, ...about };
}

const rows = new Map();
const unsafe = new Map(); // what is not safe on the desk yet, from the first moment on

/** Show how one thing stands. */
function row(one) {
  if (one.safe) unsafe.delete(one.key);
  else unsafe.set(one.key, one);
  if (!rows.has(one.key)) {
    const note = make("span", {}, "");
    const name = one.name ?? `Spoken at ${clock(one.began)}`;
    here("sent").prepend(make("li", {}, make("span", {}, name), note));
    rows.set(one.key, note);
    while (here("sent").children.length > 30) here("sent").lastChild.remove();
  }
  const share = one.held ? Math.floor((100 * (one.have ?? 0)) / one.held) : 0;
  let words = one.closed ? `kept on the phone, ${share} % sent` : "being spoken";
  if (one.safe) words = "✓ safe on the desk";
  if (one.refused) words = `✗ ${one.refused} It is kept on this phone, and tried again when this page is opened.`;
  rows.get(one.key).textContent = words;
  tell();
}

/** Say in one line how the way to the desk is. */
function tell() {
  const waiting = [...unsafe.values()].filter((one) => !one.refused);
  const many = waiting.filter((one) => one.closed).length;
  const held = many ? `${many} kept on this phone` : "nothing waits on this phone";
  const status = away.sendStatus || away.toldStatus;
  let words = waiting.length ? `${waiting.length} on the way.` : "All that was sent is safe on the desk.";
  if (!waiting.length && !rows.size) words = "Nothing on the way.";
  if (away.send || away.told) {
    words = `No way to the desk now: ${held}. It goes by itself when there is one.`;
    if ([403, 404].includes(status)) words = `The desk does not know this phone any more: ${held}. Point it at the square on the desk's page again.`;
    else if (status) words = `${away.send || away.told} ${many ? `${many} kept on this phone.` : ""}`;
  }
  put("state", words);
  here("state").classList.toggle("warn", Boolean(away.send || away.told));
  here("save").hidden = !savable().length;
}

/** Give what can be saved as a file of the phone: what the desk does not take, or is not there to take. */
function savable() {
  return [...unsafe.values()].filter((one) => one.stored && one.closed && (away.send || one.refused));
}

window.addEventListener("beforeunload", (event) => {
  if (memo || [...unsafe.values()].some((one) => !one.stored && !one.refused)) event.preventDefault();
});

/** Take files: kept first, then sent. */
async function take(file) {
  const one = thing({ name: file.name || "file", type: file.type, modified: file.lastModified });
  if (!kept || file.size > LARGE) {
    await straight(one, file);
    return;
  }
  row(one);
  await chain(async () => {
    await kept.file(one, file);
    one.stored = true;
    row(one);
    sender.take(one);
  });
}

/** Send a file from where it lies, when the phone does not keep it a second time. */
async function straight(one, file) {
  const { upload } = await import("./upload.js");
  row(one);
  try {
    await upload(file, (share, words) => { rows.get(one.key).textContent = `${words} ${Math.round(share * 100)} %: leave this page open`; });
    one.safe = true;
  } catch (problem) {
    one.refused = problem.message;
  }
  row(one);
}

for (const input of document.querySelectorAll(".target input")) {
  input.addEventListener("change", async () => {
    const files = [...input.files];
    for (const file of files) await take(file);
    input.value = "";
  });
}

/** Give what waits as files of the phone, for when the desk is not found again. */
here("save").addEventListener("click", async () => {
  for (const one of savable()) {
    let whole = await kept.bytes(one, 0, Infinity);
    if (one.rate) whole = new Blob([wavHead(one.rate, whole.size - 44), whole.slice(44)]);
    const stamp = one.began ? `memo ${new Date(one.began).toISOString().slice(0, 19).replaceAll(":", ".")}Z.wav` : one.name;
    const link = make("a", { href: URL.createObjectURL(whole), download: stamp });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }
});

/* hands-free */

const talk = {
  begin(rate, lead) {
    const began = Math.round(Date.now() - lead * 1000);
    const one = thing({ began, rate, type: "audio/wav" });
    memo = one;
    row(one);
    chain(async () => {
      await kept.add(one, wavHead(rate));
      one.stored = true;
      sender.take(one);
    });
  },
  sound(pcm) {
    const one = memo;
    if (!one) return;
    chain(async () => {
      await kept.add(one, pcm);
      sender.take(one);
    });
  },
  end() {
    const one = memo;
    memo = null;
    if (!one) return;
    chain(async () => {
      one.closed = true;
      await kept.put(one);
      row(one);
      sender.take(one);
    });
  },
  level({ db, floor, voice: on, dead }) {
    const now = Date.now();
    if (on) voice.last = now;
    if (!dead) voice.since = now;
    voice.on = on;
    here("meter").value = Math.max(0, Math.min(1, (db - floor) / 40));
    const words = now - voice.since > 5000 ? "The microphone gives no sound: is it covered, or taken?" : on ? "Hearing you" : "Listening";
    put("hears", words);
    document.body.classList.toggle("voice", on);
  },
  gap(from, to) {
    lost(`Nothing was heard from ${clock(from)} to ${clock(to)}: the screen was off or another app in front. Say it again.`);
  },
  gone(words) {
    stop();
    lost(`${words} Touch “Listen” to go on.`);
  },
};

const speaker = new Speaker(
  (shut) => {
    ears?.mute(shut);
    put("hears", ears ? (shut ? "Speaking: wait" : "Listening") : "");
    document.body.classList.toggle("speaking", shut);
  },
  () => !voice.on && Date.now() - voice.last > QUIET_MS,
);

async function start() {
  if (ears || starting) return;
  starting = true;
  speaker.warm();
  lost("");
  here("hears").textContent = "Opening the microphone…";
  try {
    voice = { on: false, last: 0, since: Date.now() };
    await recording();
    ears = await listen(talk);
    navigator.storage?.persist?.().catch(() => {});
  } catch (problem) {
    const refused = problem.name === "NotAllowedError";
    lost(refused
      ? "This page may not use the microphone. Allow it in the browser's settings for this page; Talk, Snap and Send work without."
      : `The microphone cannot be opened (${problem.message}). Talk, Snap and Send work without.`);
  }
  starting = false;
  shown();
}

async function stop() {
  const was = ears;
  ears = null;
  voice.on = false;
  shown();
  await was?.stop();
  talk.end();
}

/** Hold the sign that this page records, so that another one does not end its memo. */
function recording() {
  if (recording.held || !navigator.locks) return undefined;
  recording.held = true;
  return new Promise((ready) => {
    navigator.locks.request("recording", () => { ready(); return new Promise(() => {}); });
    setTimeout(ready, 500); // another page of this phone records too; each has its own memo
  });
}

function shown() {
  document.body.classList.toggle("listening", Boolean(ears));
  here("listen").firstElementChild.textContent = ears ? "Stop" : "Listen";
  here("listen").setAttribute("aria-pressed", String(Boolean(ears)));
  here("meter").hidden = !ears;
  if (!ears) {
    here("hears").textContent = "";
    document.body.classList.remove("voice", "speaking");
  } else here("hears").textContent = ears.awake() ? "Listening" : "Listening. The screen may go dark: touch it at times";
}

here("listen").addEventListener("click", () => (ears ? stop() : start()));
here("sound").addEventListener("click", () => {
  speaker.turn(!speaker.on);
  sounding();
});

function sounding() {
  here("sound").hidden = !speaker.able;
  here("sound").textContent = speaker.on ? "Sound is on" : "Sound is off";
  here("sound").setAttribute("aria-pressed", String(speaker.on));
}

/* the beginning */

async function begin() {
  sounding();
  const why = unable();
  here("listen").hidden = Boolean(why);
  here("unable").hidden = !why;
  if (why) here("why").textContent = why;
  document.body.classList.toggle("plain", Boolean(why));
  try {
    kept = await open();
  } catch {
    lost("This browser keeps nothing (a private window?): leave the page open until all is sent.");
    here("listen").hidden = true;
  }
  const state = (which) => (words, status) => {
    away[which] = words;
    away[`${which}Status`] = status;
    tell();
  };
  sender = new Sender(kept, row, state("send"));
  for (const one of kept ? await left() : []) {
    one.stored = true;
    row(one);
    sender.take(one);
  }
  sender.run();
  const readback = new Readback(speaker, stop);
  // the desk's own browser may look at this page and send; it is told on its own pages
  if (document.body.dataset.role === "phone") follow((told, fresh) => readback.show(told, fresh), state("told"));
  tell();
  document.body.dataset.ready = "";
  if (window.isSecureContext && "serviceWorker" in navigator) {
    // the page then opens without a network too; only where the desk is trusted
    navigator.serviceWorker.register("/phone/worker.js", { scope: "/phone" }).catch(() => { here("untrusted").hidden = false; });
  }
}

/** Give what an earlier page left; a memo that was being spoken as it ended is whole as far as it got. */
async function left() {
  const things = (await kept.things()).sort((a, b) => a.order - b.order);
  const held = navigator.locks ? (await navigator.locks.query()).held.some((one) => one.name === "recording") : false;
  const mine = [];
  for (const one of things) {
    if (!one.closed && held) continue; // another page is recording it
    if (!one.closed || one.refused) {
      Object.assign(one, { closed: true, refused: undefined }); // what the desk refused is tried once more
      await kept.put(one);
    }
    mine.push(one);
  }
  return mine;
}

begin();
