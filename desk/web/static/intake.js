// Dropping a folder on the desk, and watching each file as it is heard and read.
"use strict";

import { make } from "./desk.js";
import { upload } from "./upload.js";

const drop = document.getElementById("drop");
const list = document.getElementById("files");
const state = document.getElementById("run");
const rows = new Map();

function row(name) {
  if (!rows.has(name)) {
    const note = make("span", {}, "");
    const item = make("li", {}, make("span", {}, name), note);
    list.append(item);
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

async function take(files) {
  for (const file of files) {
    const note = row(file.name);
    try {
      await upload(file, (share, words) => { note.textContent = `${words} ${Math.round(share * 100)} %`; });
    } catch (problem) {
      note.textContent = `✗ ${problem.message}`;
    }
  }
}

drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", async (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  take(await filesOf(event.dataTransfer));
});
for (const input of drop.querySelectorAll("input")) {
  input.addEventListener("change", () => take([...input.files]));
}

// What the desk does with them, from the beginning of its memory, also after coming back.
const events = new EventSource("/intake/events");
events.addEventListener("file", (event) => {
  const { name, note } = JSON.parse(event.data);
  row(name).textContent = note;
});
events.addEventListener("run", (event) => {
  const { words, job } = JSON.parse(event.data);
  state.replaceChildren(words, " ");
  if (job) state.append(make("a", { href: `/job/${job}` }, `Review job ${job}`));
});
