// The ear of the phone's page: it finds speech by its level over the room's, and hands on the sound of it.
// It runs as an AudioWorklet; the class alone can be fed with samples by a test.
"use strict";

const FRAME_S = 0.02;
const LEAD_S = 1.0; // sound from before the voice was sure, so that the first word is whole
const VOICE_S = 0.35; // a pause as long as this ends a phrase
const MEMO_S = 4.0; // and as long as this a memo: a value may come some seconds after what it is of
const LONG_S = 100; // from here on a memo ends at the next phrase's end
const MOST_S = 120; // and here in any case, the next going on without a gap
const PIECE_S = 0.5;
const TELL_S = 0.1;
const SLOT_S = 0.25;
const SLOTS = 16; // the room's level is the least of the last four seconds: speech has its dips
const OVER_DB = 9; // over the least level of noise, which lies some 3 dB under its mean
const BACK_DB = 6; // lower than OVER_DB, so that a voice that fades is not cut
const LEAST_DB = -72; // no room is more silent; a microphone that is off would be
const CORNER_HZ = 120; // below it is wind and engine, and no word

export class Voice {
  /** `tell` is given {is: "begin", rate, lead}, {is: "sound", pcm}, {is: "end"} and {is: "level", db, floor, voice, dead, at}. */
  constructor(rate, tell) {
    Object.assign(this, { rate, tell, muted: false, memo: false, voice: false });
    this.frame = new Float32Array(Math.round(rate * FRAME_S));
    this.filled = 0;
    this.fed = 0; // samples: the clock of the sound itself
    this.lead = [];
    this.slots = [];
    this.slot = { least: 0, frames: 0 };
    this.keep = Math.exp((-2 * Math.PI * CORNER_HZ) / rate);
    this.before = this.passed = 0;
    this.smooth = null; // of the level, over some 100 ms; it begins where the room is
    this.above = []; // of the last six frames, which were loud
    this.quiet = 0; // s since the voice was last heard
    this.length = 0; // s of this memo
    this.sound = [];
    this.untold = 0;
  }

  feed(samples) {
    this.fed += samples.length;
    for (let at = 0; at < samples.length;) {
      const some = samples.subarray(at, at + this.frame.length - this.filled);
      this.frame.set(some, this.filled);
      this.filled += some.length;
      at += some.length;
      if (this.filled === this.frame.length) {
        this.filled = 0;
        if (!this.muted) this.hear(this.frame);
      }
    }
  }

  /** Hear nothing while the phone itself speaks; a memo ends there, for its time would not be whole. */
  mute(on) {
    if (on) this.cut();
    this.muted = on;
    this.lead = [];
    this.above = [];
    this.voice = false;
  }

  /** End the memo that is being spoken, with all that was heard of it. */
  cut() {
    if (!this.memo) return;
    this.hand();
    this.memo = false;
    this.tell({ is: "end" });
  }

  hear(frame) {
    const pcm = new Int16Array(frame.length);
    let power = 0;
    for (let i = 0; i < frame.length; i += 1) {
      const x = Math.max(-1, Math.min(1, frame[i]));
      pcm[i] = Math.round(x * 32767);
      this.passed = this.keep * (this.passed + x - this.before);
      this.before = x;
      power += this.passed * this.passed;
    }
    const db = Math.max(LEAST_DB, 10 * Math.log10(power / frame.length + 1e-12));
    this.smooth = this.smooth === null ? db : this.smooth + 0.3 * (db - this.smooth);
    const floor = this.room();
    const over = db - floor;
    this.above = [...this.above.slice(-5), over > OVER_DB];
    if (this.above.filter(Boolean).length >= 4) this.voice = true;
    if (over > (this.voice ? BACK_DB : OVER_DB)) this.quiet = 0;
    else this.quiet += FRAME_S;
    if (this.quiet >= VOICE_S) this.voice = false;
    this.take(pcm);
    this.untold += FRAME_S;
    if (this.untold >= TELL_S) {
      this.untold = 0;
      this.tell({ is: "level", db, floor, voice: this.voice, dead: power < 1e-9, at: this.fed / this.rate });
    }
  }

  /** Give the room's level in dB: the least of the last seconds, after minimum statistics. */
  room() {
    const { slot } = this;
    slot.least = slot.frames ? Math.min(slot.least, this.smooth) : this.smooth;
    slot.frames += 1;
    const least = Math.max(LEAST_DB, Math.min(slot.least, ...this.slots));
    if (slot.frames * FRAME_S >= SLOT_S) {
      this.slots = [...this.slots.slice(1 - SLOTS), slot.least];
      this.slot = { least: 0, frames: 0 };
    }
    return least;
  }

  take(pcm) {
    if (!this.memo) {
      this.lead.push(pcm);
      if (this.lead.length * FRAME_S > LEAD_S) this.lead.shift();
      if (!this.voice) return;
      this.begin(this.lead);
      this.lead = [];
      return;
    }
    this.sound.push(pcm);
    this.length += FRAME_S;
    if (this.quiet >= MEMO_S || (this.length >= LONG_S && !this.voice)) this.cut();
    else if (this.length >= MOST_S) {
      this.cut();
      this.begin([]);
    } else if (this.sound.length * FRAME_S >= PIECE_S) this.hand();
  }

  begin(lead) {
    this.memo = true;
    this.length = lead.length * FRAME_S;
    this.tell({ is: "begin", rate: this.rate, lead: this.length });
    this.sound = lead;
    this.hand();
  }

  hand() {
    if (!this.sound.length) return;
    const pcm = new Int16Array(this.sound.length * this.frame.length);
    this.sound.forEach((one, i) => pcm.set(one, i * this.frame.length));
    this.sound = [];
    this.tell({ is: "sound", pcm: pcm.buffer });
  }
}

if (typeof registerProcessor === "function") {
  registerProcessor("voice", class extends AudioWorkletProcessor {
    constructor() {
      super();
      this.heard = new Voice(sampleRate, (told) => this.port.postMessage(told, told.pcm ? [told.pcm] : []));
      this.port.onmessage = ({ data }) => {
        if ("mute" in data) this.heard.mute(data.mute);
        if (data.cut || data.end) this.heard.cut();
        if (data.end) this.ended = true;
      };
    }

    process([input]) {
      if (this.ended) return false;
      if (input[0]) this.heard.feed(input[0]);
      return true;
    }
  });
}
