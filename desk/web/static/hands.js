// Hands-free: the microphone, held open from one touch to the next, and the screen kept awake.
"use strict";

const GAP_MS = 3000; // as long without a sign from the microphone, and something was not heard

/** Give why this page cannot listen by itself, or "" where it can. */
export function unable() {
  if (!window.isSecureContext) return "This page came without encryption.";
  if (!navigator.mediaDevices?.getUserMedia || !window.AudioWorkletNode) return "This browser gives pages no microphone.";
  return "";
}

/**
 * Listen until `stop` is called on what is given back. `on` is told: begin(rate, lead), sound(pcm), end(),
 * level({db, floor, voice, dead}), gap(from, to) with ms since 1970, and gone(words) when the microphone is taken away.
 */
export async function listen(on) {
  const stream = await navigator.mediaDevices.getUserMedia({
    // a voice filter made for calls cuts what the desk hears well, and takes a drill for speech
    audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: true },
  });
  const sound = await opened(stream);
  const node = new AudioWorkletNode(sound.context, "voice", { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" });
  let missed = 0;
  let last = null; // when the last sign came, by the clock and by the sound
  node.port.onmessage = ({ data }) => {
    const now = Date.now();
    if (data.is === "level") {
      // a page that was held up gets all the same soon after; a microphone that was held up gets less
      const lacks = last ? now - last.now - 1000 * (data.at - last.at) : 0;
      if (lacks < GAP_MS) missed = 0;
      else missed ||= now;
      if (missed && now - missed > 500) {
        node.port.postMessage({ cut: true });
        on.gap(now - lacks, now);
        missed = 0;
        last = null;
      }
      if (!last || lacks < 0 || (lacks < 500 && now - last.now > 60000)) last = { now, at: data.at };
    }
    if (data.is === "begin") on.begin(data.rate, data.lead);
    else if (data.is === "sound") on.sound(data.pcm);
    else if (data.is === "end") on.end();
    else on.level(data);
  };
  sound.source.connect(node).connect(sound.context.destination); // silent; some browsers run only what leads there
  const [track] = stream.getAudioTracks();
  track.addEventListener("ended", () => on.gone("The phone took the microphone away."));
  let lock = null;
  const awake = async () => {
    if (document.visibilityState !== "visible") return;
    if (sound.context.state !== "running") sound.context.resume().catch(() => {});
    try {
      lock = await navigator.wakeLock?.request("screen");
    } catch {
      lock = null; // a battery that is low refuses; the screen then sleeps as it is set to
    }
  };
  document.addEventListener("visibilitychange", awake);
  await awake();
  return {
    awake: () => Boolean(lock && !lock.released),
    mute(shut) {
      node.port.postMessage({ mute: shut });
    },
    async stop() {
      document.removeEventListener("visibilitychange", awake);
      lock?.release().catch(() => {});
      // what was heard up to now is handed on first
      const ended = new Promise((done) => { setTimeout(done, 250); });
      node.port.postMessage({ end: true });
      await ended;
      track.stop();
      await sound.context.close().catch(() => {});
    },
  };
}

/** Open the sound at the rate that speech is heard at; at the phone's own where a browser cannot. */
async function opened(stream) {
  for (const options of [{ sampleRate: 16000 }, {}]) {
    const context = new AudioContext(options);
    try {
      await context.audioWorklet.addModule("/static/mic.js");
      const source = context.createMediaStreamSource(stream);
      await context.resume();
      return { context, source };
    } catch (problem) {
      await context.close().catch(() => {});
      if (!options.sampleRate) throw problem;
    }
  }
  return null;
}

const EVER = 0xffffffff; // a length that was not known at the beginning, as of a stream

/** Give the 44 bytes that begin a WAV of 16-bit mono sound; `bytes` of it, where that is known. */
export function wavHead(rate, bytes = EVER) {
  const view = new DataView(new ArrayBuffer(44));
  const text = (at, words) => { for (let i = 0; i < 4; i += 1) view.setUint8(at + i, words.charCodeAt(i)); };
  text(0, "RIFF");
  view.setUint32(4, bytes === EVER ? EVER : bytes + 36, true);
  text(8, "WAVE");
  text(12, "fmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * 2, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, bytes, true);
  return view.buffer;
}
