"""How soon and how rightly what is spoken is read back: python benchmarks/readback.py.

`python benchmarks/readback.py [--minutes 3] [--snr 20] [--idle 30]` serves a desk on this machine
and plays a hands-free phone to it in real time: flite's voices speak notes of invented work with
pauses in synthetic hangar noise, each memo goes out in pieces of half a second while it is spoken,
and the answers are asked for as the phone's page asks for them. Prints, of the phrases that state a
value,

- the seconds from the end of a phrase to its text at the phone (median, 95th percentile, worst);
- how many were understood rightly, asked about, not told, told wrongly;
- files received, and received twice;
- how often the list of what is still to say was right after a memo: exactly what was not yet said;
- the processor while nobody speaks and the phone waits for news, as a share of one core;
- photos (alone with --photos): the seconds from a photo's first byte to its answer.

Whether what is said back is heard as it was said: benchmarks/said_back.py.

Needs Debian's flite and the models. The figures in docs/readback.md say with what
else the machine was busy.
"""

from __future__ import annotations

import argparse
import io
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import wave
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

import httpx  # noqa: E402  (after the path to the project is set)
import numpy as np  # noqa: E402
import psutil  # noqa: E402
import uvicorn  # noqa: E402
from PIL import Image  # noqa: E402

from desk.opening import Opened  # noqa: E402
from desk.readback import still as rules  # noqa: E402
from desk.readback import wording  # noqa: E402
from desk.readback.listener import header  # noqa: E402
from desk.settings import load  # noqa: E402
from desk.web.serve import config, listen, make_desk  # noqa: E402
from extract.values.catalogue import load as catalogue  # noqa: E402
from record.store import Store  # noqa: E402

RATE = 16_000
PIECE_S = 0.5
PHOTO_PIECE = 1024 * 1024  # as the phone's page sends it
# Memos as one speaks them over an oil change: each phrase with the field and value that it states.
# Invented; the order is not that of the list of what is still to say.
NOTES: list[list[tuple[str, str, str]]] = [
    [
        ("Tach reads two three four six point two.", "tach_time", "2346.2"),
        ("Hobbs is three one seven eight point four.", "hour_meter_time", "3178.4"),
    ],
    [("Dipstick showed five and a quarter before I drained it.", "oil_level_before", "5.25")],
    [("The drain plug is back in and wired.", "drain_closed", "true")],
    [
        ("I cut the old filter open.", "filter_opened", "true"),
        ("There is no metal in the pleats.", "metal_found", "none"),
    ],
    [("Old gasket came off with it.", "old_gasket_removed", "true")],
    [
        ("New filter is alpha bravo dash three one eight.", "filter_part_number", "AB-318"),
        ("Torqued the filter to seventeen foot pounds.", "filter_torque", "17"),
        ("Filter is safety wired.", "filter_safetied", "true"),
    ],
    [
        ("Put in seven and a quarter quarts of oil.", "oil_added", "7.25"),
        ("Oil is single grade fifty.", "oil_grade", "SAE 50"),
    ],
    [("Oil cap is on and tight.", "oil_cap_tight", "true")],
    [
        ("Ran it up to a thousand R P M.", "runup_rpm", "1000"),
        ("No leaks.", "leak_check", "pass"),
    ],
    [("Dipstick now shows six and three quarters.", "oil_level", "6.75")],
    [("Tools and rags all accounted for.", "tools_counted", "true")],
    [("Cowl is back on.", "cowling_installed", "true")],
]


@dataclass
class Phrase:
    """One spoken phrase: what it states, and when it ended on this machine's clock."""

    text: str
    name: str
    value: str
    memo: str
    ended: float = 0.0
    told: list[tuple[float, dict[str, Any], str]] = field(default_factory=list)


def spoken(text: str, voice: str) -> np.ndarray:
    """Let flite speak a sentence; float samples at 16 kHz."""
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        subprocess.run(["flite", "-voice", voice, "-t", text, "-o", file.name], check=True)
        with wave.open(file.name) as got:
            raw = got.readframes(got.getnframes())
    return np.frombuffer(raw, "<i2").astype(np.float32) / 32768


def noise(seconds: float, rng: np.random.Generator) -> np.ndarray:
    """Make a hangar: a fan's low rumble, hiss, and a clank now and then."""
    count = round(seconds * RATE)
    rough = np.cumsum(rng.normal(0, 1, count + 1))
    rumble = rough[1:] - np.convolve(rough, np.ones(800) / 800, "same")[1:]
    made = rumble / np.std(rumble) + rng.normal(0, 0.3, count)
    for at in rng.integers(0, max(1, count - RATE), round(seconds / 5)):
        t = np.arange(RATE // 4) / RATE
        made[at : at + len(t)] += (
            6 * np.sin(2 * np.pi * rng.uniform(900, 2500) * t) * np.exp(-18 * t)
        )
    return (made / np.std(made)).astype(np.float32)


class Phone:
    """A paired phone: sends memos in pieces, and asks for news as the page does."""

    def __init__(self, port: int, desk: Any) -> None:
        self.http = httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60)
        self.http.get(f"/open/{desk.doors.invite('phone')}", follow_redirects=True)
        self.token = {"x-cowlnote-token": desk.doors.token(self.http.cookies[desk.doors.cookie])}
        self.news: list[tuple[float, dict[str, Any]]] = []
        self.state: dict[str, Any] = {}
        self.ended = False
        self.thread = threading.Thread(target=self._follow, daemon=True)
        self.thread.start()

    def _follow(self) -> None:
        since = 0
        asking = httpx.Client(base_url=self.http.base_url, cookies=self.http.cookies, timeout=60)
        while not self.ended:
            told = asking.get(f"/phone/told?since={since}&wait=2").json()
            self.news += [(time.monotonic(), item) for item in told["told"]]
            since, self.state = told["at"], told
            time.sleep(0.3)

    def post(self, url: str, **more: Any) -> Any:
        """Send something with the token; give the answer's object."""
        answer = self.http.post(url, headers=self.token, **more)
        answer.raise_for_status()
        return answer.json()

    def memo(self, key: str, sound: np.ndarray, ends: dict[float, Phrase]) -> None:
        """Speak one memo in real time; note when each phrase of it ended."""
        began = time.time()
        told = {"key": key, "type": "audio/wav", "began": began * 1000}
        number = self.post("/upload", json=told)["id"]
        raw = header(None) + (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
        start, sent = time.monotonic(), 0
        for phrase_s, phrase in ends.items():
            phrase.ended = start + phrase_s
        step = round(PIECE_S * RATE) * 2
        while sent < len(raw):
            time.sleep(max(0.0, start + (sent + step) / 2 / RATE - time.monotonic()))
            piece = raw[sent : sent + step]
            self.post(f"/upload/{number}?at={sent}", content=piece)
            sent += len(piece)
        self.post(f"/upload/{number}/done", json={"size": len(raw)})


def talk(
    desk: Any, phone: Phone, minutes: float, snr: float
) -> tuple[list[Phrase], list[tuple[set, set]]]:
    """Speak the notes, over and over for so many minutes; give phrases and the lists after each."""
    rng = np.random.default_rng(3)
    fields = catalogue()
    phrases: list[Phrase] = []
    lists: list[tuple[set, set]] = []
    said: set[str] = set()
    until = time.monotonic() + minutes * 60
    turn = 0
    while time.monotonic() < until:
        for note in NOTES:
            key = f"memo-{turn:04}-bench"
            voice = ("rms", "slt")[turn % 2]
            parts, ends, at = [np.zeros(round(0.5 * RATE), np.float32)], {}, 0.5
            for text, name, value in note:
                sound = spoken(text, voice)
                at += len(sound) / RATE
                phrase = Phrase(text, name, value, key)
                ends[at] = phrase
                phrases.append(phrase)
                said.add(name)
                pause = 1.2
                parts += [sound, np.zeros(round(pause * RATE), np.float32)]
                at += pause
            parts.append(np.zeros(round(1.3 * RATE), np.float32))
            clean = np.concatenate(parts)
            loud = float(np.std(clean[np.abs(clean) > 0.01]))
            mixed = clean + noise(len(clean) / RATE, rng)[: len(clean)] * loud / 10 ** (snr / 20)
            phone.memo(key, mixed / max(1.0, float(np.max(np.abs(mixed)))), ends)
            turn += 1
            time.sleep(2.0)
            heard = time.monotonic() + 7
            while not desk.live.idle() and time.monotonic() < heard:
                time.sleep(0.1)
            time.sleep(0.5)
            if len(said) > 3:
                asked = {one["field"] for one in phone.state.get("still", [])}
                names = {one.field for one in rules.unsaid("oil-and-filter", said, fields)}
                lists.append((asked, names))
            if time.monotonic() > until:
                break
    return phrases, lists


def answered(phrases: list[Phrase], news: list[tuple[float, dict[str, Any]]]) -> None:
    """Print how soon and how rightly phrases were read back."""
    fields = catalogue()
    late, right, asked, wrong, missed = [], 0, 0, [], []
    for phrase in phrases:
        field_ = fields.fields[phrase.name]
        found = [
            (at, line)
            for at, item in news
            if item["memo"] == phrase.memo
            and item["kind"] != "changed"
            and at >= phrase.ended - 0.6
            for line in item["lines"]
            if line["field"] == phrase.name
        ]
        if not found:
            missed.append(phrase.text)
            continue
        at, line = found[0]
        late.append(at - phrase.ended)
        value = field_.kind_object.load(phrase.value)
        draft = wording_draft(field_, value)
        if line["doubt"]:
            asked += 1
        elif line["text"] == wording.line(draft, fields).text:
            right += 1
        else:
            wrong.append(f"{phrase.text} -> {line['text']}")
    late.sort()
    print(
        f"phrases {len(phrases)}: right {right}, asked {asked}, not told {len(missed)}, "
        f"told otherwise {len(wrong)}"
    )
    for one in (*wrong, *(f"not told: {text}" for text in dict.fromkeys(missed))):
        print("  ", one)
    if late:
        p95 = late[min(len(late) - 1, round(0.95 * len(late)))]
        print(
            f"end of phrase to text at the phone, s: median {statistics.median(late):.2f}, "
            f"p95 {p95:.2f}, worst {late[-1]:.2f}"
        )


def wording_draft(field_: Any, value: Any) -> Any:
    """Make a draft of a value, sure and without a place."""
    from extract.values.draft import Draft

    return Draft(field_.name, value, field_.unit, None, "m", 0.0, 1.0, None, "", 0.97)


def opened(home: Path) -> Opened:
    """Open a home of the invented aircraft, with the models of this checkout."""
    profile = 'registration = "N0417Q"\nzone = "America/Chicago"\nfilter_torque = [16, 18]\n'
    (home / "aircraft.toml").write_text(profile, "utf-8")
    settings = load(home, {"COWLNOTE_MODELS": str(TOP / "models")})
    return Opened(settings, catalogue(), Store.open(home))


def bench(args: argparse.Namespace) -> None:
    """Serve a desk, play the phone, print the figures."""
    home = Path(tempfile.mkdtemp())
    here = opened(home)
    listening = listen("127.0.0.1", 0)
    port = listening.getsockname()[1]
    desk = make_desk(here, port=port)
    server = uvicorn.Server(config(desk))
    threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
    while not server.started:
        time.sleep(0.02)
    phone = Phone(port, desk)
    time.sleep(8)  # the models are loaded when a phone comes in
    if args.photos:
        photos(phone, desk)
        phone.ended = True
        server.should_exit = server.force_exit = True
        return
    phrases, lists = talk(desk, phone, args.minutes, args.snr)
    print(f"{args.minutes} min, {args.snr} dB over the noise, load {psutil.getloadavg()[0]:.1f}")
    while not (desk.live.idle() and desk.runner.rests()):
        time.sleep(0.2)
    time.sleep(1)
    answered(phrases, phone.news)
    memos = {phrase.memo for phrase in phrases}
    safe = [one["key"] for one in phone.state["received"] if one["safe"]]
    print(f"memos sent {len(memos)}, safe {len(set(safe))}, twice {len(safe) - len(set(safe))}")
    same = sum(asked == names for asked, names in lists)
    print(f"still to say right after {same} of {len(lists)} memos")
    for asked, names in lists:
        if asked != names:
            print("   too much:", sorted(asked - names), "lacking:", sorted(names - asked))
    photos(phone, desk)
    idle(args.idle, desk)
    phone.ended = True
    server.should_exit = server.force_exit = True


def photos(phone: Phone, desk: Any, times: int = 3) -> None:
    """Send the demo's photos, also at a phone's 12 megapixels; print how soon each is answered.

    The seconds are from the first byte sent to the answer at the phone, over the loopback address.
    """
    late = []
    for path in sorted((TOP / "demo_media").glob("IMG_*.jpg")) * times:
        for wide in (1600, 4000):
            raw = enlarged(path, wide, seed=len(late))
            key = f"photo-{len(late):04}"
            told = {"name": path.name, "size": len(raw), "type": "image/jpeg", "key": key}
            began = time.monotonic()
            number = phone.post("/upload", json=told)["id"]
            for at in range(0, len(raw), PHOTO_PIECE):
                phone.post(f"/upload/{number}?at={at}", content=raw[at : at + PHOTO_PIECE])
            phone.post(f"/upload/{number}/done", json={})
            found: list[tuple[float, Any]] = []
            while not found and time.monotonic() < began + 60:
                time.sleep(0.02)
                found = [one for one in phone.news if one[1]["memo"] == key]
            for at, item in found[:1]:
                late.append(at - began)
                what = item["lines"][0]["text"]
                size = f"{wide} px, {len(raw) // 1000} kB"
                print(f"photo {path.name}, {size}: {late[-1]:.2f} s, {what}")
            while not (desk.live.idle() and desk.runner.rests()):
                time.sleep(0.1)
    late.sort()
    load = psutil.getloadavg()[0]
    print(
        f"{len(late)} photos to their answers, s: median {statistics.median(late):.2f}, "
        f"worst {late[-1]:.2f}, over 3 s {sum(one > 3 for one in late)}; load {load:.1f}"
    )


def enlarged(path: Path, wide: int, seed: int) -> bytes:
    """Give a photo at a width, with a grain of its own and the time of its taking."""
    with Image.open(path) as image:
        exif = image.getexif()
        large = image.resize((wide, round(image.height * wide / image.width)))
    grain = np.random.default_rng(seed).integers(-4, 5, (large.height, large.width, 1))
    pixels = np.clip(np.asarray(large.convert("RGB"), np.int16) + grain, 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=88, exif=exif)
    return out.getvalue()


def idle(seconds: float, desk: Any) -> None:
    """Print the processor's share while nobody speaks and a phone waits for news."""
    process = psutil.Process()
    before = process.cpu_times()
    time.sleep(seconds)
    after = process.cpu_times()
    used = after.user + after.system - before.user - before.system
    print(
        f"processor while nobody speaks: {used / seconds:.1%} of a core over {seconds:.0f} s "
        "(desk and the benchmark's own phone)"
    )


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--minutes", type=float, default=3)
    parser.add_argument("--snr", type=float, default=20)
    parser.add_argument("--idle", type=float, default=30)
    parser.add_argument("--photos", action="store_true", help="photos alone")
    args = parser.parse_args()
    bench(args)


if __name__ == "__main__":
    main()
