"""An hour of hangar on the phone's page: python benchmarks/hangar.py [--minutes 60] [--talk 10].

A desk is served over TLS with its real engines, and a real Chromium opens the phone's page, with a
sound file as its microphone: so many minutes of synthetic hangar (a fan, hiss, clanks, a drill now
and then) in which flite's voices speak notes of invented work, `--talk` minutes in all. One touch
starts it; the page finds who speaks, cuts memos, sends them and shows what was understood. It takes
as long as the sound, and some minutes more. Prints, with the machine's load at the beginning, the
middle and the end,

- the seconds from the end of a phrase to its text on the page (median, 95th percentile, worst);
- how many phrases were understood rightly, asked about, not told, told otherwise;
- how many lie whole in a memo that the desk has, memos received, and received twice;
- how often the list of what is still to say was right before a note began;
- the processor, desk and Chromium apart, over the whole, and while nobody spoke for a minute.

Where a phrase lies on the clock is found by the sound itself: the first memo is sought in the file.
Needs flite, Chromium and the models. Invented; nothing of it is a real hangar.
"""

from __future__ import annotations

import argparse
import pickle
import statistics
import sys
import tempfile
import threading
import time
import wave
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

import numpy as np  # noqa: E402  (after the path to the project is set)
import psutil  # noqa: E402
import uvicorn  # noqa: E402

from benchmarks.readback import NOTES, RATE, noise, opened, spoken, wording_draft  # noqa: E402
from capture.audio import decode  # noqa: E402
from desk.readback import still, wording  # noqa: E402
from desk.web.certificate import provide  # noqa: E402
from desk.web.serve import config, listen, make_desk  # noqa: E402
from record import media  # noqa: E402
from tests.desk.page.conftest import CHROMIUM  # noqa: E402
from tests.desk.page.phones import flags  # noqa: E402

EARLY_S = 150.0
LEAD_S = 8.0  # the page has opened its microphone by then
WATCH = """
localStorage.setItem('sound', 'off');
window.news = []; window.sent = [];
const own = window.fetch;
window.fetch = async (url, given) => {
  if (String(url) === '/upload' && given?.body) {
    const { key, began } = JSON.parse(given.body);
    if (began) window.sent.push({ key, began });
  }
  const answer = await own(url, given);
  if (String(url).startsWith('/phone/told')) answer.clone().json().then((told) => {
    // the page draws it in the same turn; then the next frame is on the screen
    const shown = () => window.news.push({ at: Date.now(), told });
    setTimeout(() => requestAnimationFrame(shown), 0);
  });
  return answer;
};
"""


@dataclass
class Phrase:
    """One phrase of the sound: what it states, of which note, and from when to when, in seconds."""

    text: str
    name: str
    value: str
    note: int
    start_s: float
    end_s: float


def notes_of(talk_s: float) -> list[list[tuple[Any, np.ndarray]]]:
    """Let flite speak notes, over and over, until there are so many seconds of talk."""
    voiced: dict[tuple[str, str], np.ndarray] = {}
    made: list[list[tuple[Any, np.ndarray]]] = []
    total, turn = 0.0, 0
    while total < talk_s:
        voice = ("rms", "slt")[turn // len(NOTES) % 2]
        note = []
        for one in NOTES[turn % len(NOTES)]:
            if (one[0], voice) not in voiced:
                voiced[one[0], voice] = spoken(one[0], voice)
            sound = voiced[one[0], voice]
            note.append((one, sound))
            total += len(sound) / RATE
        made.append(note)
        turn += 1
    return made


def write(path: Path, minutes: float, talk: float, snr: float) -> list[Phrase]:
    """Write the hangar, a minute at a time; give its phrases."""
    rng = np.random.default_rng(5)
    notes = notes_of(talk * 60)
    spoken_s = sum(len(s) / RATE + 1.2 for note in notes for _, s in note)
    last_s = minutes * 60 - 70  # the last minute is silent, so that it can be measured
    spare = max(5.0, (last_s - LEAD_S - spoken_s) / len(notes))
    phrases: list[Phrase] = []
    voices = np.zeros(round(minutes * 60 * RATE), np.float32)
    at = LEAD_S
    for number, note in enumerate(notes):
        for (text, name, value), sound in note:
            first = round(at * RATE)
            if at + len(sound) / RATE > last_s:
                break
            voices[first : first + len(sound)] += sound
            end = at + len(sound) / RATE
            phrases.append(Phrase(text, name, value, number, at, end))
            at = end + 1.2
        at += spare * rng.uniform(0.5, 1.5)
    loud = float(np.std(voices[np.abs(voices) > 0.01])) / 10 ** (snr / 20)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        for first in range(0, len(voices), 60 * RATE):
            part = voices[first : first + 60 * RATE]
            room = noise(len(part) / RATE, rng)[: len(part)]
            if rng.random() < 0.2 and len(part) > 20 * RATE:  # somebody drills for some seconds
                t = np.arange(6 * RATE) / RATE
                drill = sum(np.sin(2 * np.pi * 180 * k * t) / k for k in range(1, 9))
                at_ = rng.integers(0, len(part) - len(t))
                room[at_ : at_ + len(t)] += 1.5 * drill.astype(np.float32)
            mixed = np.clip(part + room * loud, -1, 1)
            out.writeframes((mixed * 32767).astype("<i2").tobytes())
    return phrases


def begun_at(sound: Path, memo: np.ndarray, began_s: float) -> float:
    """Give at which moment (s since 1970) the file began to play, by where a memo lies in it."""
    piece = memo[: 12 * RATE]
    with wave.open(str(sound)) as whole:
        frames = whole.readframes(round(2 * EARLY_S) * RATE)
    head = np.frombuffer(frames, "<i2").astype(np.float32) / 32768
    size = len(head) + len(piece)
    alike = np.fft.irfft(np.fft.rfft(head, size) * np.conj(np.fft.rfft(piece, size)), size)
    return began_s - int(np.argmax(alike[: len(head)])) / RATE


def serve(home: Path) -> tuple[Any, int, uvicorn.Server]:
    """Serve a desk as to a phone, with its real engines."""
    here = opened(home)
    names = ("127.0.0.1", "desk.test")
    certificate = provide(home, names)
    place = listen("127.0.0.1", 0)
    port = place.getsockname()[1]
    desk = make_desk(
        here, port=port, lan_address=names[0], names=names[1:], certificate=certificate
    )
    server = uvicorn.Server(config(desk, certificate))
    threading.Thread(target=server.run, kwargs={"sockets": [place]}, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    return desk, port, server


def used(process: psutil.Process) -> tuple[float, float]:
    """Give the processor seconds of this process, and of those that it started (Chromium)."""
    own = process.cpu_times()
    other = 0.0
    for child in process.children(recursive=True):
        try:
            times = child.cpu_times()
            other += times.user + times.system
        except psutil.Error:
            continue
    return own.user + own.system, other


def play(args: argparse.Namespace, sound: Path, folder: Path) -> dict[str, Any]:
    """Open the page, touch once, and let the sound play; give what came of it."""
    from playwright.sync_api import sync_playwright

    desk, port, server = serve(folder / "home")
    process, loads = psutil.Process(), [psutil.getloadavg()[0]]
    with sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=CHROMIUM, args=flags(sound, desk.certificate.authority)
        )
        context = browser.new_context(
            viewport={"width": 412, "height": 915}, has_touch=True, is_mobile=True
        )
        context.add_init_script(WATCH)
        page = context.new_page()
        page.goto(f"https://127.0.0.1:{port}/open/{desk.doors.invite('phone')}")
        page.wait_for_selector("body[data-ready]")
        page.wait_for_timeout(8000)  # the models are loaded when a phone comes in
        page.locator("#listen").tap()
        page.wait_for_selector("body.listening")
        start, before = time.monotonic(), used(process)
        halves = [args.minutes * 30, args.minutes * 60 - 60]
        page.wait_for_timeout(halves[0] * 1000)
        loads.append(psutil.getloadavg()[0])
        page.wait_for_timeout(max(0.0, start + halves[1] - time.monotonic()) * 1000)
        while not (desk.live.idle() and desk.runner.rests()):
            page.wait_for_timeout(200)
        quiet, quiet_s = used(process), time.monotonic()
        page.wait_for_timeout(max(15.0, start + args.minutes * 60 - time.monotonic()) * 1000)
        after, quiet_s = used(process), time.monotonic() - quiet_s
        whole_s = time.monotonic() - start
        page.locator("#listen").tap()
        page.wait_for_selector("body:not(.listening)")
        page.wait_for_timeout(3000)
        while not (desk.live.idle() and desk.runner.rests()):
            page.wait_for_timeout(200)
        page.wait_for_timeout(2000)
        got = {"news": page.evaluate("window.news"), "sent": page.evaluate("window.sent")}
        browser.close()
    loads.append(psutil.getloadavg()[0])
    with desk.store.session(write=False) as session:
        rows = {row.name: desk.vault.path(row.sha256) for row in media.media(session)}
    server.should_exit = server.force_exit = True
    busy = [(b - a) / whole_s for a, b in zip(before, after, strict=True)]
    still_ = [(b - a) / quiet_s for a, b in zip(quiet, after, strict=True)]
    return {**got, "rows": rows, "loads": loads, "busy": busy, "quiet": still_, "quiet_s": quiet_s}


def report(phrases: list[Phrase], got: dict[str, Any], sound: Path, fields: Any) -> None:
    """Print the figures."""
    last = got["news"][-1]["told"]
    names = {one["key"]: one["name"] for one in last["received"] if one["safe"]}
    began = {one["key"]: one["began"] / 1000 for one in got["sent"]}
    heard = {key: decode(got["rows"][name]) for key, name in names.items()}
    # of the memos of the first minutes the loudest surely has a voice in it
    early = [k for k in heard if began[k] - min(began.values()) < EARLY_S]
    loudest = max(early, key=lambda k: float(np.std(heard[k])))
    zero = begun_at(sound, heard[loudest], began[loudest])
    spans = [(began[k] - zero, began[k] - zero + len(s) / RATE) for k, s in heard.items()]
    inside = sum(any(a <= p.start_s and p.end_s <= b for a, b in spans) for p in phrases)
    late, right, asked, wrong, missed = [], 0, 0, [], []
    items = {i["n"]: (n["at"] / 1000 - zero, i) for n in got["news"] for i in n["told"]["told"]}
    for phrase in phrases:
        found = [
            (at, line)
            for at, item in sorted(items.values(), key=lambda one: one[0])
            if phrase.end_s - 0.6 <= at <= phrase.end_s + 30 and item["kind"] != "changed"
            for line in item["lines"]
            if line["field"] == phrase.name
        ]
        if not found:
            missed.append(f"{phrase.text} at {phrase.start_s:.0f} s")
            continue
        at, line = found[0]
        late.append(at - phrase.end_s)
        entry = fields.fields[phrase.name]
        value = entry.kind_object.load(phrase.value)
        if line["doubt"]:
            asked += 1
        elif line["text"] == wording.line(wording_draft(entry, value), fields).text:
            right += 1
        else:
            wrong.append(f"{phrase.text} -> {line['text']}")
    print(f"phrases {len(phrases)}, whole in a memo on the desk {inside}: right {right}, "
          f"asked {asked}, not told {len(missed)}, told otherwise {len(wrong)}")  # fmt: skip
    for one in (*wrong, *(f"not told: {text}" for text in missed)):
        print("  ", one)
    late.sort()
    if late:
        p95 = late[min(len(late) - 1, round(0.95 * len(late)))]
        print(f"end of phrase to its text on the page, s: median {statistics.median(late):.2f}, "
              f"p95 {p95:.2f}, worst {late[-1]:.2f}")  # fmt: skip
    keys = [one["key"] for one in last["received"] if one["safe"]]
    print(f"memos sent {len(began)}, safe {len(set(keys))}, twice {len(keys) - len(set(keys))}, "
          f"kept by the record {len(got['rows'])}")  # fmt: skip
    lists(phrases, got, zero, fields)


def lists(phrases: list[Phrase], got: dict[str, Any], zero: float, fields: Any) -> None:
    """Print how often the list of what is still to say was right as the next note began."""
    right = total = 0
    for number in range(1, max(p.note for p in phrases) + 1):
        begins = min((p.start_s for p in phrases if p.note == number), default=None)
        said = {p.name for p in phrases if p.note < number}
        if begins is None or len(said) < 4:
            continue
        told = [n["told"] for n in got["news"] if n["at"] / 1000 - zero < begins]
        if told:
            total += 1
            expected = {one.field for one in still.unsaid("oil-and-filter", said, fields)}
            right += {one["field"] for one in told[-1]["still"]} == expected
    print(f"still to say right before {right} of {total} notes")


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--talk", type=float, default=10, help="minutes of talk in it")
    parser.add_argument("--snr", type=float, default=20, help="dB of the voices over the noise")
    parser.add_argument("--keep", type=Path, help="a new folder that keeps sound, home and news")
    args = parser.parse_args()
    from extract.values.catalogue import load

    with tempfile.TemporaryDirectory() as name:
        folder = args.keep or Path(name)
        (folder / "home").mkdir(parents=True)
        phrases = write(folder / "hangar.wav", args.minutes, args.talk, args.snr)
        got = play(args, folder / "hangar.wav", folder)
        (folder / "got.pickle").write_bytes(pickle.dumps((phrases, got)))
        loads = ", ".join(f"{one:.1f}" for one in got["loads"])
        print(f"{args.minutes:g} min of hangar, {args.talk:g} min of talk, {args.snr:g} dB over "
              f"the noise; load at the beginning, middle and end {loads}")  # fmt: skip
        report(phrases, got, folder / "hangar.wav", load())
        for what, key in (("over the whole", "busy"), ("while nobody spoke", "quiet")):
            desk, browser = got[key]
            print(f"processor {what}: desk {desk:.1%} of a core, Chromium {browser:.1%}")


if __name__ == "__main__":
    main()
