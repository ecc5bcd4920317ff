// Saying aloud what was understood, with the phone's own voice; the microphone hears nothing meanwhile.
"use strict";

const AFTER_MS = 400; // the room's echo of the last word
const OLD_MS = 60000;

/** `mute(on)` shuts the microphone; `free()` says that nobody is speaking. */
export class Speaker {
  constructor(mute, free) {
    Object.assign(this, { mute, free, on: localStorage.getItem("sound") !== "off", queue: [], busy: false });
    this.able = "speechSynthesis" in window;
  }

  /** Turn the sound on or off; by a touch, or some phones give no voice. */
  turn(on) {
    this.on = on;
    localStorage.setItem("sound", on ? "on" : "off");
    if (!this.able) return;
    if (!on) {
      this.queue = [];
      speechSynthesis.cancel();
    } else this.warm();
  }

  /** Say nothing, within a touch, so that the voice may be used later without one. */
  warm() {
    if (!this.able || this.warmed) return;
    this.warmed = true;
    const nothing = new SpeechSynthesisUtterance(" ");
    nothing.volume = 0;
    speechSynthesis.speak(nothing);
  }

  say(words) {
    if (!this.on || !this.able || !words) return;
    this.queue.push({ words, since: Date.now() });
    if (!this.busy) this.run();
  }

  async run() {
    this.busy = true;
    while (this.queue.length) {
      if (!this.free()) { // a person speaks: he is not spoken over
        await new Promise((done) => { setTimeout(done, 100); });
        continue;
      }
      const { words, since } = this.queue.shift();
      if (Date.now() - since > OLD_MS || !this.on) continue;
      this.mute(true);
      await spoken(words);
      await new Promise((done) => { setTimeout(done, AFTER_MS); });
      this.mute(false);
    }
    this.busy = false;
  }
}

/** Speak; done when it ends, fails, or the phone forgets to say that it ended. */
function spoken(words) {
  return new Promise((done) => {
    const said = new SpeechSynthesisUtterance(words);
    said.lang = "en";
    said.onend = said.onerror = done;
    setTimeout(() => {
      speechSynthesis.cancel();
      done();
    }, 4000 + 120 * words.length);
    speechSynthesis.speak(said);
  });
}
