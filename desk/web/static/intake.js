// Dropping a folder on the desk, and watching each file as it is heard and read.
"use strict";

import { make } from "./desk.js";
import { upload } from "./upload.js";

const drop = document.getElementById("drop");
const list = document.getElementById("files");
const state = document.getElementById("run");
const rows = new Map();
const heardOf = new Set(); // files that the desk told about since they were sent: it knows more

function row(name) {
  if (!rows.has(name)) {
    const note = make("span", {}, "");
    list.append(make("li", {}, make("span", {}, name), note));
    rows.set(name, note);
  }
  return rows.get(name);
}

/** Give every file of what was dropped, folders walked through. */
async function filesOf(transfer) {
  const found = [];
  const walk = async (entry) => {
    if (entry.isFile) found.push(await new Promise((ok, no) => { entry.file(ok, no); }));
    else if (entry.isDirectory) {
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((ok, no) => { reader.readEntries(ok, no); });
        if (!some.length) break;
        for (const inner of some) await walk(inner);
      }
    }
  };
  for (const entry of [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean)) await walk(entry);
  return found.length ? found : [...transfer.files];
}

let under = 0; // batches that are on the way
let took = false; // whether anything was taken in from this page
let asked = 0; // the number of the last run that this page asked for: what was said before it is old
window.addEventListener("beforeunload", (event) => { if (under) event.preventDefault(); });

async function take(files) {
  under += 1;
  took = true;
  for (const file of files) {
    const note = row(file.name);
    heardOf.delete(file.name);
    try {
      const kept = await upload(file, (share, words) => {
        if (!heardOf.has(file.name)) note.textContent = `${words} ${Math.round(share * 100)} %`;
      });
      asked = Math.max(asked, kept.run);
    } catch (problem) {
      note.textContent = `✗ ${problem.message}`;
    }
  }
  under -= 1;
  showRun();
}

drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", async (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  take(await filesOf(event.dataTransfer));
});
for (const input of drop.querySelectorAll("input")) {
  input.addEventListener("change", async () => {
    await take([...input.files]);
    input.value = ""; // so that the same file can be chosen again
  });
}

// What the desk does with them, from the beginning of its memory, also after coming back.
const events = new EventSource("/intake/events");
events.addEventListener("file", (event) => {
  const { name, note, media, of } = JSON.parse(event.data);
  heardOf.add(name);
  row(name).textContent = note;
  if (media) row(name).append(" ", evidence(media, of, name));
});

/** What nothing was understood in: the sound to play, or the picture to look at. */
function evidence(media, of, name) {
  if (of === "photo") return make("a", { href: `/media/${media}/photo?px=1440`, target: "_blank" }, "look at it");
  return make("audio", { controls: "", preload: "none", src: `/media/${media}/sound`, "aria-label": `Listen to ${name}` });
}

let run = { words: "", jobs: [], number: 0 };
events.addEventListener("run", (event) => {
  run = { ...JSON.parse(event.data), number: Number(event.lastEventId) };
  showRun();
});

function showRun() {
  if (run.number < asked) return; // the end of an earlier run, which did not read all that was sent
  state.hidden = !run.words;
  state.replaceChildren(run.words);
  if (!run.jobs.length || under) return; // more is coming
  const links = run.jobs.map(({ id, aircraft, day, words, files }) => {
    const about = [aircraft, day, words].filter(Boolean).join(", ");
    const names = make("span", { class: "soft" }, files.join(", "));
    return make("li", {}, make("span", {}, make("a", { href: `/job/${id}` }, `Review job ${id}`), ` ${about}`), names);
  });
  state.append(make("ul", { class: "files" }, ...links));
  refresh();
  // the next thing to do is one key away, unless the hands are elsewhere
  const link = state.querySelector("a");
  if (took && (document.activeElement === document.body || drop.contains(document.activeElement))) link.focus();
}

/** Fetch the table of jobs anew, as it is after a run. */
async function refresh() {
  try {
    const html = await (await fetch("/", { headers: { accept: "text/html" } })).text();
    const fresh = new DOMParser().parseFromString(html, "text/html").getElementById("state");
    if (fresh) document.getElementById("state").replaceChildren(...fresh.childNodes);
  } catch {
    // the desk does not answer; what is shown stays
  }
}
