// What the phone keeps until the desk has it: in the browser's own database, also when the page is closed.
"use strict";

const PIECE = 1024 * 1024; // a photo in few requests; one that the network drops is sent again whole
const END = Number.MAX_SAFE_INTEGER;

const asked = (request) => new Promise((ok, no) => {
  request.onsuccess = () => ok(request.result);
  request.onerror = () => no(request.error);
});

/** Open what is kept. Throws where the browser keeps nothing (a private window of some). */
export async function open() {
  const request = indexedDB.open("cowlnote", 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore("things", { keyPath: "key" });
    request.result.createObjectStore("pieces"); // by [key, the byte at which it begins]
  };
  return new Kept(await asked(request));
}

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID is for secure pages only
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** A thing is {key, name, type, began, modified, held, closed, order, refused}: a memo or a file, and how much of it is here. */
class Kept {
  constructor(db) {
    this.db = db;
  }

  /** Run `work(things, pieces)` in one transaction, which is on the phone's disk when this is done. */
  write(work) {
    return new Promise((ok, no) => {
      const made = this.db.transaction(["things", "pieces"], "readwrite", { durability: "strict" });
      made.oncomplete = () => ok();
      made.onabort = made.onerror = () => no(made.error ?? new Error("not kept"));
      work(made.objectStore("things"), made.objectStore("pieces"));
    });
  }

  things() {
    return asked(this.db.transaction("things").objectStore("things").getAll());
  }

  put(thing) {
    return this.write((things) => things.put(plain(thing)));
  }

  /** Add the next bytes of a thing; either both the bytes and the new length are kept, or neither. */
  async add(thing, buffer) {
    const held = thing.held + buffer.byteLength;
    await this.write((things, pieces) => {
      pieces.put(buffer, [thing.key, thing.held]);
      things.put(plain({ ...thing, held }));
    });
    thing.held = held;
  }

  /** Keep a whole file. */
  async file(thing, file) {
    for (let at = 0; at < file.size; at += PIECE) await this.add(thing, await file.slice(at, at + PIECE).arrayBuffer());
    thing.closed = true;
    await this.put(thing);
  }

  /** Give the bytes of a thing from byte `at` on: some 1 MB, or all with `most` Infinity. */
  async bytes(thing, at, most = PIECE) {
    const store = this.db.transaction("pieces").objectStore("pieces");
    const within = (from) => IDBKeyRange.bound([thing.key, from], [thing.key, END]);
    const count = most === Infinity ? undefined : 64;
    let keys = await asked(store.getAllKeys(within(at), count));
    if (keys[0]?.[1] !== at) keys = await asked(store.getAllKeys(within(0))); // the desk's part ends within a piece
    const parts = [];
    let size = 0;
    for (const key of keys) {
      const piece = await asked(this.db.transaction("pieces").objectStore("pieces").get(key));
      if (key[1] + piece.byteLength <= at) continue;
      const part = key[1] < at ? piece.slice(at - key[1]) : piece;
      if (size && size + part.byteLength > most) break;
      parts.push(part);
      size += part.byteLength;
    }
    return new Blob(parts);
  }

  forget(key) {
    return this.write((things, pieces) => {
      things.delete(key);
      pieces.delete(IDBKeyRange.bound([key, 0], [key, END]));
    });
  }
}

const plain = ({ key, name, type, began, modified, held, closed, order, rate, refused }) => (
  { key, name, type, began, modified, held, closed, order, rate, refused });
