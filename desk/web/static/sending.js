// Sending what is kept: what is being spoken first, then photos, then the oldest; from where the desk says it has got to.
"use strict";

import { ask, send } from "./desk.js";

const WAIT = [500, 1000, 2000, 4000, 8000];
const PATIENCE = 20000; // ms for one request: a network that is half away never answers

const sleep = (ms) => new Promise((done) => { setTimeout(done, ms); });

function within(ms) {
  const stop = new AbortController();
  setTimeout(() => stop.abort(), ms);
  return stop.signal;
}

/** Sends the things of a list. `told(thing)` is called when one got on; `state(words)` with "" or why nothing goes. */
export class Sender {
  constructor(kept, told, state) {
    Object.assign(this, { kept, told, state, things: new Map(), wake: () => {} });
  }

  /** Take a thing into the list, or tell that it has grown. */
  take(thing) {
    this.things.set(thing.key, thing);
    this.wake();
  }

  waiting() {
    return [...this.things.values()].filter((one) => !one.refused);
  }

  async run() {
    for (let tries = 0; ;) {
      const thing = this.next();
      if (!thing) {
        await new Promise((done) => { this.wake = done; });
        continue;
      }
      try {
        await this.step(thing);
        tries = 0;
        this.state("", 0);
      } catch (problem) {
        thing.id = null; // asked for anew by its own key: the desk says what it has
        if (await this.refusal(thing, problem)) continue;
        this.state(problem.message, problem.status ?? 0);
        await Promise.race([sleep(WAIT[Math.min(tries, WAIT.length - 1)]), this.hurry()]);
        tries += 1;
      }
    }
  }

  /** Wait until the network is said to be back. */
  hurry() {
    return new Promise((done) => { window.addEventListener("online", done, { once: true }); });
  }

  next() {
    const open = this.waiting().filter((one) => one.held > (one.have ?? 0) || one.closed);
    const rank = (one) => (!one.closed ? 0 : (one.type ?? "").startsWith("image/") ? 1 : 2); // a photo is waited for, camera in hand
    open.sort((a, b) => rank(a) - rank(b) || a.order - b.order);
    return open[0];
  }

  async step(thing) {
    const size = thing.closed ? thing.held : null;
    if (!thing.id) {
      const { name, type, began, modified } = thing;
      const key = thing.again ? `${thing.key}-${thing.again}` : thing.key;
      const signal = within(PATIENCE);
      const here = await send("/upload", { key, name, type, began, modified, size }, { signal });
      if (here.safe && thing.closed && here.have >= thing.held) return this.safe(thing);
      if (here.safe) { // the desk had waited long enough, and kept the beginning: the whole goes once more
        thing.again = (thing.again ?? 0) + 1;
        return undefined;
      }
      Object.assign(thing, { id: here.id, have: here.have });
    } else if (thing.have < thing.held) {
      const piece = await this.kept.bytes(thing, thing.have);
      const before = thing.have;
      const answer = await send(`/upload/${thing.id}?at=${thing.have}`, piece, { signal: within(PATIENCE) });
      thing.have = answer.have;
      if (thing.have === before) thing.id = null; // it did not follow: ask how far the desk has got
    } else if (thing.closed) {
      await send(`/upload/${thing.id}/done`, { size: thing.held }, { signal: within(PATIENCE) });
      return this.safe(thing);
    }
    this.told(thing);
    return undefined;
  }

  /** The desk has it on its disk: only now may the phone forget it. */
  async safe(thing) {
    this.things.delete(thing.key);
    thing.safe = true;
    await this.kept.forget(thing.key);
    this.told(thing);
  }

  /** Say whether the desk will never take this one; it stays on the phone, with the desk's words. */
  async refusal(thing, problem) {
    const never = [400, 409, 413, 415, 422].includes(problem.status);
    thing.refusals = never ? (thing.refusals ?? 0) + 1 : 0;
    if (thing.refusals < 3) {
      if (never) await sleep(500);
      return never;
    }
    if (!thing.closed) return false;
    thing.refused = problem.message;
    await this.kept.put(thing);
    this.told(thing);
    return true;
  }
}

/** Follow what the desk tells: `show(answer, fresh)` for each, `state(words)` with "" or why nothing comes. */
export async function follow(show, state) {
  let since = 0;
  let last = 0;
  for (let tries = 0; ;) {
    try {
      const told = await ask(`/phone/told?since=${since}&wait=${last ? 20 : 0}`, { signal: within(35000) });
      // what is older than a minute is shown and not said: nobody waits for it
      const fresh = last && Date.now() - last < 60000;
      last = Date.now();
      since = told.at;
      tries = 0;
      state("", 0);
      show(told, fresh);
      await sleep(300);
    } catch (problem) {
      state(problem.message, problem.status ?? 0);
      await sleep(WAIT[Math.min(tries, WAIT.length - 1)]);
      tries += 1;
    }
  }
}
