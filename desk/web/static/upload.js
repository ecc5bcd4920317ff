// Sending files in pieces: a dropped network costs one piece, and a file counts only when the desk says it is safe.
"use strict";

import { ask, send } from "./desk.js";

const PIECE = 512 * 1024;
const WAIT = [500, 1000, 2000, 4000, 8000];

const sleep = (ms) => new Promise((done) => { setTimeout(done, ms); });

/**
 * Send one file; gives {sha256, name, run}. `progress(share, note)` is told how it goes.
 * It tries for as long as the page is open, from where the desk says it has got to; a refusal by
 * the desk (wrong kind, too large) ends it with an Error.
 */
export async function upload(file, progress) {
  let id = null;
  let have = 0;
  for (let tries = 0; ;) {
    try {
      if (!id) ({ id } = await send("/upload", { name: file.name, size: file.size, type: file.type, modified: file.lastModified }));
      if (tries) ({ have } = await ask(`/upload/${id}`));
      while (have < file.size) {
        const piece = file.slice(have, have + PIECE);
        ({ have } = await send(`/upload/${id}?at=${have}`, piece));
        tries = 0;
        progress(have / file.size, "sending");
      }
      const done = await send(`/upload/${id}/done`, {});
      progress(1, "safe on the desk");
      return done;
    } catch (problem) {
      if (problem.final) throw problem;
      progress(have / file.size, problem.status ? `${problem.message}; trying again,` : "the network is away; trying again,");
      await sleep(WAIT[Math.min(tries, WAIT.length - 1)]);
      tries += 1;
    }
  }
}
