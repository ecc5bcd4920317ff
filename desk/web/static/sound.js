// The sound of a memo: its waveform, the span of a value, the words that light up as they play.
"use strict";

const AROUND = 0.5; // seconds played before and after the words of a value

/** One memo on the page. Its waveform is drawn when it is first looked at. */
export class Memo {
  constructor(piece) {
    this.piece = piece;
    this.audio = piece.querySelector("audio");
    this.words = [...piece.querySelectorAll(".words span")];
    this.starts = this.words.map((word) => Number(word.dataset.s));
    this.sounding = null;
    this.until = Infinity;
    this.audio.addEventListener("play", () => this.follow());
    this.words.forEach((word) => word.addEventListener("dblclick", () => this.play(Number(word.dataset.s))));
  }

  /** Give the words between two seconds. */
  span(start, end) {
    return start === null ? [] : this.words.filter((w) => Number(w.dataset.e) > start && Number(w.dataset.s) < end);
  }

  async draw() {
    const heard = Number(this.piece.dataset.duration) > 0; // what could not be heard has no waveform
    if (this.drawn || !heard) return;
    this.drawn = true;
    const answer = await fetch(`/media/${this.piece.dataset.media}/peaks`);
    if (!answer.ok) return;
    const box = this.piece.querySelector(".wave");
    box.hidden = false;
    this.piece.querySelector(".strip").toggleAttribute("hidden", true);
    const style = getComputedStyle(document.documentElement);
    this.wave = window.WaveSurfer.create({
      container: box,
      media: this.audio,
      peaks: [await answer.json()],
      duration: Number(this.piece.dataset.duration),
      height: 48,
      normalize: true,
      waveColor: style.getPropertyValue("--soft").trim(),
      progressColor: style.getPropertyValue("--hand").trim(),
      cursorColor: style.getPropertyValue("--ink").trim(),
      cspNonce: document.body.dataset.nonce,
    });
  }

  /** Play from a second to another; half a second is added on both sides of a span. */
  async play(start, end = null) {
    const from = Math.max(0, end === null ? start : start - AROUND);
    this.until = end === null ? Infinity : end + AROUND;
    try {
      await this.at(from);
    } catch {
      // not every browser plays every recorder's format: the desk turns it into one that all play
      this.audio.src = `/media/${this.piece.dataset.media}/sound?wav`;
      await this.at(from);
    }
    await this.audio.play().catch((problem) => {
      if (problem.name !== "AbortError") throw new Error("The browser does not let this sound play; press Space again.");
    });
  }

  /** Go to a second, once the sound is there to go in; throws where it cannot be played. */
  async at(second) {
    const once = (name) => new Promise((done, failed) => {
      this.audio.addEventListener(name, done, { once: true });
      this.audio.addEventListener("error", () => failed(new Error("This sound cannot be played here.")), { once: true });
    });
    this.audio.pause();
    if (this.audio.readyState < 1) {
      const known = once("loadedmetadata");
      this.audio.load();
      await known;
    }
    const there = once("seeked");
    this.audio.currentTime = second;
    await there;
  }

  stop() {
    this.audio.pause();
  }

  follow() {
    const now = this.audio.currentTime;
    if (now >= this.until) this.audio.pause();
    this.light(now);
    if (!this.audio.paused) requestAnimationFrame(() => this.follow());
    else this.light(-1);
  }

  light(second) {
    let low = 0;
    let high = this.starts.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.starts[middle] <= second) low = middle + 1;
      else high = middle;
    }
    const word = second < 0 ? null : this.words[low - 1] ?? null;
    if (word === this.sounding) return;
    this.sounding?.classList.remove("sounding");
    word?.classList.add("sounding");
    this.sounding = word;
  }
}
