"""What a paired phone is told of its own files, over the page's real requests and stand-in engines.

The ear hears what the test says of each stretch: a second of tone is one phrase, told by its pitch.
"""

from __future__ import annotations

import io
import re
import sqlite3
import threading
import time
import wave
from pathlib import Path

import numpy as np
import pytest

from capture.observed import Hearing, Transcript, Word
from desk.readback.beside import Beside
from desk.web.serve import make_desk
from tests.conftest import RecordedEye
from tests.desk.page.conftest import PORT, client_of, open_home

BEGAN = 1_773_497_525_000  # 2026-03-14 09:12:05 in Chicago, in ms
RATE = 16_000


def tones(*pitches):
    """Make a memo: half a second of each pitch, and a second of silence behind each."""
    t = np.arange(RATE // 2) / RATE
    quiet = np.zeros(RATE)
    parts = [part for p in pitches for part in (np.sin(2 * np.pi * p * t) * 0.3, quiet)]
    out = io.BytesIO()
    with wave.open(out, "wb") as made:
        made.setnchannels(1)
        made.setsampwidth(2)
        made.setframerate(RATE)
        made.writeframes((np.concatenate(parts) * 32767).astype("<i2").tobytes())
    return out.getvalue()


def pitch(samples):
    """Give the pitch of a stretch, to the nearest 100."""
    shape = np.abs(np.fft.rfft(samples))
    return round(float(np.argmax(shape)) * RATE / len(samples) / 100) * 100


def find(samples, base_s=0.0):
    """Find tones: half seconds that are not silent, on the grid that `tones` makes."""
    loud = np.abs(np.asarray(samples, float)) > 0.01
    edges = np.flatnonzero(np.diff(np.convolve(loud, np.ones(800), "same") > 0.5))
    if loud[:400].any():
        edges = np.concatenate([[0], edges])
    if len(edges) % 2:
        edges = np.concatenate([edges, [len(loud)]])
    for start, end in edges.reshape(-1, 2):
        yield base_s + start / RATE, base_s + end / RATE


class PhraseEar:
    """Hears by pitch. `first` is what the quick hearing makes of a pitch, `says` the full ones."""

    def __init__(self, says):
        self.says, self.first, self.quickly = says, {}, 0

    def quick(self, samples, speech):
        self.quickly += 1
        return self.words(samples, speech, {**self.says, **self.first})

    @staticmethod
    def words(samples, speech, says):
        made = []
        for start, end in speech:
            said = says.get(pitch(samples[round(start * RATE) : round(end * RATE)]), "").split()
            step = (end - start) / max(1, len(said))
            made += [
                Word(w, start + i * step, start + (i + 0.9) * step) for i, w in enumerate(said)
            ]
        return made

    def hear(self, samples, media, progress=None):
        spans = tuple(find(samples))
        words = tuple(self.words(samples, spans, self.says))
        return Transcript(media, len(samples) / RATE, (Hearing("full", "", words),), spans)


SAYS = {
    200: "tach reads two three four six decimal two.",
    300: "torqued the filter to seventeen foot pounds.",
    400: "put in seven and a quarter quarts of oil.",
    500: "torqued the filter to sixteen foot pounds.",
    600: "negative, seventeen.",
    700: "leak check failed, there is oil at the filter base.",
    800: "that's the end of the notes.",
    900: "",
    1000: "tach reads two three four six decimal seven.",
    1100: "seventeen.",
    1300: "two three four six decimal two.",
}


@pytest.fixture
def ear():
    return PhraseEar(dict(SAYS))


@pytest.fixture
def eye():
    return RecordedEye()


@pytest.fixture
def desk(tmp_path, ear, eye):
    """A desk with nothing in it, that hears pitches."""
    made = make_desk(open_home(tmp_path / "home"), port=PORT, ear=ear, eye=eye)
    made.live.find = find
    made.doors.lan = True
    yield made
    made.store.close()


def phone_of(desk, address="198.51.100.7"):
    """A phone that was paired."""
    made = client_of(desk, address)
    assert made.get(f"/open/{desk.doors.invite('phone')}").status_code == 200
    made.headers["x-cowlnote-token"] = desk.doors.token(made.cookies[desk.doors.cookie])
    return made


@pytest.fixture
def phone(desk):
    return phone_of(desk)


def settle(desk):
    """Wait until all that came was heard, quickly and in full."""
    until = time.monotonic() + 30
    while time.monotonic() < until:
        runs = [c["words"] for _, kind, c in desk.runner.since(0) if kind == "run"]
        busy = runs and runs[-1].startswith("Listening")
        if desk.live.idle() and not busy:
            time.sleep(0.05)
            if desk.live.idle():
                return
        time.sleep(0.02)
    raise AssertionError("it does not come to rest")


def send(phone, key, body, *, began=BEGAN, pieces=1):
    """Send a memo in pieces while it grows, and end it."""
    told = {"key": key, "type": "audio/wav", "began": began}
    made = phone.post("/upload", json=told).json()
    step = -(-len(body) // pieces)
    for at in range(0, len(body), step):
        answer = phone.post(f"/upload/{made['id']}?at={at}", content=body[at : at + step])
        assert answer.status_code == 200, answer.text
    return phone.post(f"/upload/{made['id']}/done", json={"size": len(body)}).json()


def told(phone, since=0):
    answer = phone.get("/phone/told", params={"since": since})
    assert answer.status_code == 200, answer.text
    return answer.json()


def says(body):
    return [(item["kind"], item["say"]) for item in body["told"]]


def test_a_memo_is_read_back_while_it_is_still_being_spoken(desk, phone, ear):
    body = tones(200, 400)
    made = phone.post("/upload", json={"key": "memo-0001", "type": "audio/wav", "began": BEGAN})
    number = made.json()["id"]
    half = 44 + 2 * (RATE // 2 + RATE)
    phone.post(f"/upload/{number}?at=0", content=body[:half])
    settle(desk)
    first = told(phone)
    assert says(first) == [("understood", "Tach, two three four six decimal two.")]
    assert first["told"][0]["lines"][0]["text"] == "Tach 2346.2 h"
    assert first["told"][0]["said_at"] == "09:12"
    assert first["received"] == [
        {"key": "memo-0001", "name": "memo 2026-03-14 09.12.05.wav", "have": half, "safe": False}
    ]
    phone.post(f"/upload/{number}?at={half}", content=body[half:])
    settle(desk)
    phone.post(f"/upload/{number}/done", json={"size": len(body)})
    settle(desk)
    rest = told(phone, first["at"])
    assert says(rest) == [("understood", "Oil added, seven and a quarter quarts.")]
    assert rest["received"][0]["safe"] is True


def test_what_the_full_hearings_make_otherwise_is_told_as_changed(desk, phone, ear):
    ear.first[300] = "torqued the filter to sixteen foot pounds."
    body = tones(300)
    told_ = {"key": "memo-0001", "type": "audio/wav", "began": BEGAN}
    number = phone.post("/upload", json=told_).json()["id"]
    phone.post(f"/upload/{number}?at=0", content=body)
    settle(desk)
    assert says(told(phone)) == [("understood", "Filter torqued to sixteen foot pounds.")]
    phone.post(f"/upload/{number}/done", json={"size": len(body)})
    settle(desk)
    items = told(phone)["told"]
    assert [item["kind"] for item in items][-1] == "changed"
    line = items[-1]["lines"][0]
    assert line["say"] == "Heard again. Filter torqued to seventeen foot pounds."
    assert "16" in line["was"]
    assert items[-1]["memo"] == "memo-0001"


def test_a_correction_in_the_next_memo_replaces_what_it_corrects_and_is_read_back(desk, phone):
    send(phone, "memo-0001", tones(500))
    settle(desk)
    send(phone, "memo-0002", tones(600), began=BEGAN + 6000)
    settle(desk)
    last = told(phone)["told"][-1]
    assert last["memo"] == "memo-0002"
    line = last["lines"][0]
    assert (line["field"], line["say"]) == (
        "filter_torque",
        "Corrected. Filter torqued to seventeen foot pounds.",
    )
    assert "16" in line["was"]
    with desk.store.session(write=False) as session:
        from record import queue

        drafts = [q.draft for q in queue.drafts(session) if q.draft.name == "filter_torque"]
    assert [str(d.value) for d in drafts] == ["17"]
    assert drafts[0].media == "memo 2026-03-14 09.12.11.wav"


def test_a_bare_answer_to_what_was_asked_settles_it_and_is_read_back(
    desk, phone, ear, eye, tmp_path, photo
):
    """Photo and speech differ, that is asked, and the person says only the figures."""
    from record import queue

    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    snap(phone, photo_of(tmp_path, photo, "2026:03:14 09:12:01"))
    settle(desk)
    send(phone, "memo-0001", tones(1000))
    settle(desk)
    asked = told(phone)
    assert asked["told"][-1]["kind"] == "asked"
    assert [one["field"] for one in asked["doubtful"]] == ["tach_time"]
    send(phone, "memo-0002", tones(1300), began=BEGAN + 9000)
    settle(desk)
    answered = told(phone, asked["at"])
    assert says(answered)[0][1].endswith("Tach, two three four six decimal two.")
    assert answered["doubtful"] == []
    with desk.store.session(write=False) as session:
        (tach,) = [q.draft for q in queue.drafts(session) if q.draft.name == "tach_time"]
        beside = Beside.of(desk.settings.home, session, [1], desk.catalogue)
        assert re.fullmatch(r"asked about at \d\d:\d\d, and answered", beside.said(tach, 1))
    told_of = {(e.media, e.heard) for e in (tach, *tach.also)}
    assert ("memo 2026-03-14 09.12.14.wav", "two three four six decimal two.") in told_of
    assert tach.doubts == ()


def test_what_was_read_back_goes_out_comes_in_and_is_proved(desk, phone, ear, tmp_path):
    """The export has it, the import keeps it, and whoever changes it is found."""
    from capture.vault import Vault
    from desk import carry, upkeep
    from desk.opening import Opened
    from record import queue, readback

    send(phone, "memo-0001", tones(500))
    settle(desk)
    send(phone, "memo-0002", tones(600), began=BEGAN + 6000)
    settle(desk)
    here = Opened(desk.settings, desk.catalogue, desk.store)
    out = tmp_path / "out"
    carry.export(here, desk.vault, out)
    text = (out / "data" / "read-back.txt").read_text("utf-8")
    assert re.search(r"understood: Filter torque 16 ft-lb\n", text)
    assert re.search(r"Filter torque 17 ft-lb \(before: Filter torque 16 ft-lb\)\n", text)
    other = open_home(tmp_path / "other")
    other.store.close()
    carry.bring_in(out, other.settings)
    there = open_home(tmp_path / "other")
    assert not (tmp_path / "other" / "readback").exists()
    with there.store.session(write=False) as session:
        (torque,) = [q for q in queue.drafts(session) if q.draft.name == "filter_torque"]
        beside = Beside.of(there.settings.home, session, [1], there.catalogue)
        said = beside.said(torque.draft, 1)
        assert re.fullmatch(r"corrected after read-back at \d\d:\d\d", said)
        assert len(readback.noted(session)) == 1
    vault = Vault(there.settings.vault_dir)
    assert upkeep.check(there.store, vault).problems == []
    there.store.close()
    with sqlite3.connect(tmp_path / "other" / "record.db") as raw:
        guards = [n for (n,) in raw.execute("select name from sqlite_master where type='trigger'")]
        for name in guards:
            raw.execute(f'drop trigger "{name}"')
        raw.execute("update event set acts = replace(acts, '16 ft-lb', '18 ft-lb')")
    raw.close()
    there = open_home(tmp_path / "other")
    problems = upkeep.check(there.store, vault).problems
    assert any(line.startswith("event") for line in problems), problems
    there.store.close()


def test_a_file_of_what_was_told_does_not_outweigh_the_record(desk, phone):
    """The home's own file is plain text; what the record has noted is believed before it."""
    from desk.readback.journal import Journal
    from record import readback

    send(phone, "memo-0001", tones(500))
    settle(desk)
    (file,) = (desk.settings.home / "readback").glob("*.jsonl")
    told_ = file.read_text("utf-8").replace("16 ft-lb", "18 ft-lb")
    file.write_text(told_.replace("sixteen", "eighteen"), "utf-8")
    with desk.store.session(write=False) as session:
        noted = readback.noted(session)[file.stem]
    journal = Journal.of(desk.settings.home, file.stem, noted)
    assert [item.lines[0].text for item in journal.items] == ["Filter torque 16 ft-lb"]
    assert journal.unnoted() == []


def test_what_a_killed_desk_told_is_noted_by_the_next_command(desk, phone):
    from desk import noted
    from record import readback

    made = phone.post("/upload", json={"key": "memo-0001", "type": "audio/wav", "began": BEGAN})
    phone.post(f"/upload/{made.json()['id']}?at=0", content=tones(500))
    settle(desk)  # it was told, and its memo never came to an end
    with desk.store.session(write=False) as session:
        assert readback.noted(session) == {}
    noted.note_read_back(desk.store, desk.settings)
    with desk.store.session(write=False) as session:
        ((line,),) = readback.noted(session).values()
    assert line["lines"][0]["text"] == "Filter torque 16 ft-lb"


def test_a_bare_number_that_nobody_asked_for_is_of_nothing(desk, phone):
    send(phone, "memo-0001", tones(400))
    settle(desk)
    before = told(phone)["at"]
    send(phone, "memo-0002", tones(1100), began=BEGAN + 9000)
    settle(desk)
    assert says(told(phone, before)) == [
        ("nothing", "Nothing to enter at nine twelve: say it again, and what it is of.")
    ]


def test_what_was_not_understood_is_said_with_its_time(desk, phone):
    send(phone, "memo-0001", tones(900, 900, 900))
    settle(desk)
    assert says(told(phone)) == [("nothing", "Nothing understood at nine twelve: say it again.")]


def test_the_end_of_the_notes_is_heard(desk, phone):
    send(phone, "memo-0001", tones(400, 800))
    settle(desk)
    assert ("stopped", "Notes ended.") in says(told(phone))


def test_what_is_still_to_say_comes_with_what_must_not_be_left_first(desk, phone):
    send(phone, "memo-0001", tones(300))
    settle(desk)
    body = told(phone)
    assert [one["text"] for one in body["still"]][:6] == [
        "Drain closed",
        "Old gasket removed",
        "Filter safetied",
        "Oil cap tight",
        "Leak check",
        "Tools and rags counted",
    ]
    must = [one["must"] for one in body["still"]]
    assert must == sorted(must, reverse=True)
    assert "filter_torque" not in {one["field"] for one in body["still"]}
    assert body["all_said"] is False


def test_bad_news_stands_on_top_with_its_caution(desk, phone):
    send(phone, "memo-0001", tones(300, 700))
    settle(desk)
    body = told(phone)
    assert [one["text"] for one in body["adverse"]] == ["Leak check failed"]
    assert body["adverse"][0]["caution"].startswith("Find it and put it right")


def photo_of(tmp_path, photo, at="2026:03:14 09:12:30"):
    return photo(tmp_path / "IMG_0001.jpg", at).read_bytes()


def snap(phone, body, name="IMG_0001.jpg", key="photo-0001"):
    told_ = {"name": name, "size": len(body), "type": "image/jpeg", "key": key}
    number = phone.post("/upload", json=told_).json()["id"]
    phone.post(f"/upload/{number}?at=0", content=body)
    return phone.post(f"/upload/{number}/done", json={}).json()


def test_a_photo_answers_what_it_reads(desk, phone, eye, tmp_path, photo):
    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    snap(phone, photo_of(tmp_path, photo))
    settle(desk)
    item = told(phone)["told"][0]
    assert (item["kind"], item["memo"]) == ("photo", "photo-0001")
    assert item["lines"][0]["text"] == "Tach reads 2346.2 h"
    assert item["say"] == "Tach reads two three four six decimal two."


def test_a_photo_without_a_reading_says_what_to_do(desk, phone, eye, tmp_path, photo):
    eye.shows["IMG_0001.jpg"] = ("counter", "drum", "")
    snap(phone, photo_of(tmp_path, photo))
    settle(desk)
    assert says(told(phone)) == [("photo", "No counter read: closer, less glare.")]


def test_a_photo_and_speech_that_differ_are_said(desk, phone, eye, tmp_path, photo):
    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    send(phone, "memo-0001", tones(1000))
    settle(desk)
    snap(phone, photo_of(tmp_path, photo))
    settle(desk)
    item = told(phone)["told"][-1]
    assert item["lines"][0]["doubt"] is True
    assert "the photo reads two three four six decimal two" in item["say"]
    assert "you said two three four six decimal seven" in item["say"]


def test_a_photo_is_looked_at_once_for_both(desk, phone, eye, tmp_path, photo):
    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    snap(phone, photo_of(tmp_path, photo))
    settle(desk)
    assert len(eye.calls) == 1


def test_a_photo_is_not_held_up_by_a_phrase_that_is_being_heard(
    desk, phone, ear, eye, tmp_path, photo, monkeypatch
):
    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    heard, go_on = threading.Event(), threading.Event()

    def slowly(samples, speech):
        heard.set()
        assert go_on.wait(30)
        return PhraseEar.words(samples, speech, ear.says)

    monkeypatch.setattr(ear, "quick", slowly)
    made = phone.post("/upload", json={"key": "memo-0001", "type": "audio/wav", "began": BEGAN})
    phone.post(f"/upload/{made.json()['id']}?at=0", content=tones(400))
    assert heard.wait(30)
    snap(phone, photo_of(tmp_path, photo))
    body = phone.get("/phone/told", params={"since": 0, "wait": 20})
    while not body.json()["told"]:
        body = phone.get("/phone/told", params={"since": 0, "wait": 20})
    assert says(body.json()) == [("photo", "Tach reads two three four six decimal two.")]
    go_on.set()
    settle(desk)
    assert says(told(phone))[-1][1] == "Oil added, seven and a quarter quarts."


def test_a_photo_that_its_clock_puts_into_another_job_is_not_said_to_be_unsure(
    desk, phone, eye, tmp_path, photo
):
    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    send(phone, "memo-0001", tones(400))
    settle(desk)
    snap(phone, photo_of(tmp_path, photo, "2025:11:02 09:12:30"))
    settle(desk)
    send(phone, "memo-0002", tones(300), began=BEGAN + 20_000)
    settle(desk)
    assert not [say for _, say in says(told(phone)) if "not sure" in say or "taken back" in say]


def test_a_phone_sees_nothing_of_another_phone(desk, phone):
    other = phone_of(desk, "198.51.100.8")
    send(phone, "memo-0001", tones(300, 700))
    settle(desk)
    send(other, "memo-0002", tones(400), began=BEGAN + 60_000)
    settle(desk)
    seen = told(other)
    assert says(seen) == [("understood", "Oil added, seven and a quarter quarts.")]
    text = str(seen).replace("N0417Q", "")
    for secret in ("seventeen", "17", "leak at", "memo-0001", "Leak check failed"):
        assert secret not in text.replace("2026-03-14", ""), secret
    assert "filter_torque" not in {one["field"] for one in seen["still"]}


def test_a_phone_cannot_touch_what_another_is_sending(desk, phone):
    other = phone_of(desk, "198.51.100.8")
    told_ = {"key": "memo-0001", "type": "audio/wav", "began": BEGAN}
    number = phone.post("/upload", json=told_).json()["id"]
    assert other.get(f"/upload/{number}").status_code == 400
    assert other.post(f"/upload/{number}?at=0", content=b"x").status_code == 400
    assert other.post(f"/upload/{number}/done", json={"size": 0}).status_code == 400
    mine = other.post("/upload", json=told_).json()["id"]  # its own, though of the same key
    assert mine != number
    assert phone.get(f"/upload/{number}").json()["have"] == 0


def test_a_phone_decides_nothing(desk, phone):
    send(phone, "memo-0001", tones(300))
    settle(desk)
    paths = ["/job/1/decide", "/job/1/add", "/job/1/close", "/job/1/arrange", "/record/1/correct"]
    for path in paths:
        answer = phone.post(path, json={"act": "confirm", "id": 1, "by": "Ines Invented"})
        assert answer.status_code == 404, path
    for path in ("/", "/job/1", "/draft/1", "/media/1/sound", "/record", "/search?q=torque"):
        assert phone.get(path).status_code == 404, path


def test_who_is_not_paired_is_told_nothing(desk, phone):
    stranger = client_of(desk, "198.51.100.9")
    assert stranger.get("/phone/told").status_code == 404
    here = client_of(desk)
    here.get(f"/open/{desk.doors.invite('desk')}")
    assert here.get("/phone/told").status_code == 404  # the desk sent nothing


def test_the_same_key_is_the_same_memo(desk, phone):
    body = tones(300)
    told_ = {"key": "memo-0001", "type": "audio/wav", "began": BEGAN}
    first = phone.post("/upload", json=told_).json()
    phone.post(f"/upload/{first['id']}?at=0", content=body[:1000])
    again = phone.post("/upload", json=told_).json()
    assert (again["id"], again["have"], again["size"]) == (first["id"], 1000, None)
    phone.post(f"/upload/{first['id']}?at=1000", content=body[1000:])
    early = phone.post(f"/upload/{first['id']}/done", json={"size": len(body) + 5})
    assert early.status_code == 400
    phone.post(f"/upload/{first['id']}/done", json={"size": len(body)})
    late = phone.post("/upload", json=told_).json()
    assert (late["safe"], late["have"]) == (True, len(body))
    settle(desk)
    assert len(told(phone)["told"]) == 1


def test_a_desk_that_was_started_anew_knows_phone_memo_and_what_it_told(
    desk, phone, ear, eye, tmp_path
):
    send(phone, "memo-0001", tones(300))
    body = tones(400)
    told_ = {"key": "memo-0002", "type": "audio/wav", "began": BEGAN + 60_000}
    number = phone.post("/upload", json=told_).json()["id"]
    phone.post(f"/upload/{number}?at=0", content=body[:20_000])
    settle(desk)
    before = told(phone)
    anew = make_desk(open_home(tmp_path / "home"), port=PORT, ear=ear, eye=eye)
    anew.live.find, anew.doors.lan = find, True
    same = client_of(anew, "198.51.100.7")
    same.cookies, same.headers = phone.cookies, phone.headers
    assert told(same)["told"] == before["told"]
    assert same.post("/upload", json=told_).json()["have"] == 20_000
    assert same.post("/upload", json={**told_, "key": "memo-0001"}).json()["safe"] is True
    same.post(f"/upload/{number}?at=20000", content=body[20_000:])
    same.post(f"/upload/{number}/done", json={"size": len(body)})
    settle(anew)
    assert says(told(same, before["at"])) == [
        ("understood", "Oil added, seven and a quarter quarts.")
    ]
    anew.store.close()


def test_a_phone_that_was_unpaired_is_out(desk, phone):
    assert desk.doors.forget_phones() == 1
    assert phone.get("/phone/told").status_code == 404
    raw = Path(desk.doors.file).read_text("utf-8")
    assert '"phones": {}' in raw


def test_the_paired_phones_are_kept_for_this_user_alone_and_not_by_their_secret(desk, phone):
    file = Path(desk.doors.file)
    assert file.stat().st_mode & 0o077 == 0
    assert phone.cookies[desk.doors.cookie] not in file.read_text("utf-8")


def test_a_memo_that_nobody_went_on_with_is_kept_as_it_is(desk, phone):
    import os

    told_ = {"key": "memo-0001", "type": "audio/wav", "began": BEGAN}
    number = phone.post("/upload", json=told_).json()["id"]
    phone.post(f"/upload/{number}?at=0", content=tones(300))
    settle(desk)
    part = desk.inbox.part(desk.inbox.coming(number))
    os.utime(part, (time.time() - 13 * 3600,) * 2)
    phone.post("/upload", json={**told_, "key": "memo-0002"})
    settle(desk)
    with desk.store.session(write=False) as session:
        from record import queue

        assert [str(q.draft.value) for q in queue.drafts(session) if q.draft.unit] == ["17"]


def test_one_job_s_drafts_are_those_of_an_intake_of_the_same_files(
    desk, phone, ear, eye, tmp_path, photo
):
    from desk.intake import take_in
    from record import queue

    eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.2")
    ear.first[300] = "torqued the filter to sixteen foot pounds."
    memos = [tones(1000, 300), tones(1300), tones(400, 700), tones(500), tones(600)]
    kept = []
    for number, body in enumerate(memos):
        at = BEGAN + number * 10_000
        kept.append(send(phone, f"memo-000{number}", body, began=at, pieces=3)["name"])
    picture = photo_of(tmp_path, photo)
    snap(phone, picture)
    settle(desk)

    folder = tmp_path / "phone"
    folder.mkdir()
    for name, body in zip(kept, memos, strict=True):
        (folder / name).write_bytes(body)
    (folder / "IMG_0001.jpg").write_bytes(picture)
    here = open_home(tmp_path / "other")
    from capture.vault import Vault
    from desk.web.runner import Runner

    quiet = Runner(lambda _: None)
    take_in(
        [folder], here.settings, here.store, Vault(tmp_path / "v"), ear, eye, quiet, here.catalogue
    )

    def drafts(store):
        with store.session(write=False) as session:
            return [q.draft.to_json() for q in queue.drafts(session)]

    live, taken = drafts(desk.store), drafts(here.store)
    assert len(live) > 4
    assert live == taken
    here.store.close()


def test_the_desk_shows_beside_each_draft_what_was_read_back_of_it(desk, phone, ear):
    from record import queue

    ear.first[400] = "put in seven and a half quarts of oil."
    send(phone, "memo-0000", tones(200), began=BEGAN - 90_000)
    settle(desk)
    send(phone, "memo-0001", tones(500))
    settle(desk)
    send(phone, "memo-0002", tones(600), began=BEGAN + 6000)
    settle(desk)
    body = tones(400)
    told_ = {"key": "memo-0003", "type": "audio/wav", "began": BEGAN + 20_000}
    number = phone.post("/upload", json=told_).json()["id"]
    phone.post(f"/upload/{number}?at=0", content=body)
    settle(desk)
    phone.post(f"/upload/{number}/done", json={"size": len(body)})
    settle(desk)
    with desk.store.session(write=False) as session:
        found = queue.drafts(session, 1)
        beside = Beside.of(desk.settings.home, session, [1], desk.catalogue)
        said = {q.draft.name: beside.said(q.draft, 1) for q in found}
    at = r"\d\d:\d\d"
    assert re.fullmatch(rf"read back at {at}, not corrected", said["tach_time"])
    assert re.fullmatch(rf"corrected after read-back at {at}", said["filter_torque"])
    assert re.fullmatch(rf"read back at {at} as Oil added 7.5 qt, heard again", said["oil_added"])
    assert said["service_date"] == ""
    here = client_of(desk)
    here.get(f"/open/{desk.doors.invite('desk')}")
    page = here.get("/job/1").text
    assert "not corrected" in page
    assert "corrected after read-back" in page
