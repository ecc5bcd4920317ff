from __future__ import annotations

import pytest

from record import media
from tests.desk.page.conftest import sound


@pytest.fixture
def memo(tmp_path):
    return sound(tmp_path / "20260314_101500.wav", 1.0, 333.0).read_bytes()


@pytest.fixture
def sending(client, filled, monkeypatch):
    """A client whose files are kept and not yet heard."""
    monkeypatch.setattr(filled.desk.runner, "wake", lambda: 1)
    return client


def begin(client, name, size):
    return client.post("/upload", json={"name": name, "size": size, "modified": None})


def test_a_file_is_acknowledged_when_it_is_safe_and_is_byte_for_byte_the_same(
    sending, filled, memo
):
    number = begin(sending, "20260314_101500.wav", len(memo)).json()["id"]
    half = len(memo) // 2
    assert sending.post(f"/upload/{number}?at=0", content=memo[:half]).json()["have"] == half
    early = sending.post(f"/upload/{number}/done", json={})
    assert early.status_code == 400
    sending.post(f"/upload/{number}?at={half}", content=memo[half:])
    kept = sending.post(f"/upload/{number}/done", json={}).json()
    assert filled.desk.vault.path(kept["sha256"]).read_bytes() == memo
    with filled.desk.store.session() as session:
        row = next(m for m in media.media(session) if m.sha256 == kept["sha256"])
    assert (row.name, row.state) == ("20260314_101500.wav", "kept")
    assert row.began.source == "name"
    assert list((filled.desk.settings.home / "inbox").iterdir()) == []


def test_a_piece_sent_twice_is_taken_once(sending, memo):
    number = begin(sending, "memo.wav", len(memo)).json()["id"]
    for _ in range(2):
        assert sending.post(f"/upload/{number}?at=0", content=memo[:1000]).json()["have"] == 1000
    assert sending.get(f"/upload/{number}").json()["have"] == 1000


def test_more_than_was_announced_is_not_taken(sending, memo):
    number = begin(sending, "memo.wav", 500).json()["id"]
    assert sending.post(f"/upload/{number}?at=0", content=memo[:600]).json()["have"] == 0


@pytest.mark.parametrize(
    ("name", "size"),
    [("memo.wav", 0), ("", 10), ("memo.exe", 10), ("memo.wav", 10**12), ("...", 10), ("a", -1)],
)
def test_what_cannot_be_taken_is_refused_at_once(sending, name, size):
    answer = begin(sending, name, size)
    assert answer.status_code == 400
    assert answer.text


def test_a_name_is_never_a_path(sending, filled, memo):
    number = begin(sending, "../../../etc/evil.wav", len(memo)).json()["id"]
    sending.post(f"/upload/{number}?at=0", content=memo)
    kept = sending.post(f"/upload/{number}/done", json={}).json()
    assert kept["name"] == "evil.wav"
    home = filled.desk.settings.home
    assert not list(home.parent.parent.glob("**/evil.wav"))


@pytest.mark.parametrize("number", ["0" * 32, "..%2F..%2Faircraft", "x"])
def test_a_number_that_was_not_given_out_is_refused(sending, number):
    assert sending.get(f"/upload/{number}").status_code in (400, 404)


def test_a_recording_without_an_ending_is_taken_for_what_the_phone_says_it_is(
    sending, filled, memo
):
    body = {"name": "Voice 001", "size": len(memo), "type": "audio/x-wav; codecs=1"}
    number = sending.post("/upload", json=body).json()["id"]
    sending.post(f"/upload/{number}?at=0", content=memo)
    assert sending.post(f"/upload/{number}/done", json={}).json()["name"] == "Voice 001.wav"
    body["type"] = "application/zip"
    assert sending.post("/upload", json=body).status_code == 400


def test_a_file_whose_acknowledgement_was_lost_is_acknowledged_again(sending, memo):
    number = begin(sending, "memo.wav", len(memo)).json()["id"]
    sending.post(f"/upload/{number}?at=0", content=memo)
    first = sending.post(f"/upload/{number}/done", json={}).json()
    assert sending.get(f"/upload/{number}").json()["have"] == len(memo)
    assert sending.post(f"/upload/{number}/done", json={}).json() == first


def test_a_disk_that_is_nearly_full_is_said_before_anything_is_sent(sending, filled, monkeypatch):
    from desk.web import inbox

    monkeypatch.setattr(
        inbox.shutil, "disk_usage", lambda _: inbox.shutil._ntuple_diskusage(9, 8, 1)
    )
    answer = begin(sending, "memo.wav", 1000)
    assert answer.status_code == 503
    assert "too full" in answer.text


def test_what_lies_in_the_vault_unheard_is_heard_when_the_desk_wakes(filled, ear, eye, tmp_path):
    from desk.intake import take_in
    from desk.web.runner import Runner

    desk = filled.desk
    name = "20260314_120000.wav"
    ear.says[name] = "oil pressure is seventy psi"
    with desk.store.session() as session:
        kept = desk.vault.keep(sound(tmp_path / name, 2.0, 410.0))
        media.note(session, kept, None)

    def work(report):
        return take_in([], desk.settings, desk.store, desk.vault, ear, eye, report, desk.catalogue)

    runner = Runner(work)
    summary = work(runner)
    assert summary.jobs == [filled.job]
    assert ear.calls == [name]


def test_the_end_of_a_run_is_not_told_while_a_file_waits_for_the_next(filled):
    """A file that comes while others are heard: no job is offered before it is read as well."""
    import threading

    from desk.intake import JobDone, Summary
    from desk.web.runner import BUSY, Runner

    hears, go_on, runs = threading.Event(), threading.Event(), []

    def said():
        (found,) = [(n, content) for n, kind, content in runner.since(0) if kind == "run"]
        return found

    def work(report):
        runs.append(said())
        hears.set()
        assert go_on.wait(10)
        return Summary(done=[JobDone(1, "N0417Q", "oil", None, (f"{len(runs)}.wav",), 1, 0)])

    runner = Runner(work)
    first = runner.wake()
    assert hears.wait(10)
    second = runner.wake()
    assert second > first
    go_on.set()
    for _ in range(1000):
        number, content = said()
        if content["jobs"]:
            break
        assert content["words"] == BUSY
        threading.Event().wait(0.01)
    assert number > second
    assert content["jobs"][0]["files"] == ["1.wav", "2.wav"]
    # as the second run began nothing of the first had been offered
    assert [content["jobs"] for _, content in runs] == [[], []]


def test_room_is_kept_for_everything_that_was_announced(sending, filled, monkeypatch):
    """796 MB free: of files of 100 MB each, one on its way and one in the vault, one fits."""
    from desk.web import inbox

    free = inbox.shutil._ntuple_diskusage(10**10, 10**10 - 796 * 10**6, 796 * 10**6)
    monkeypatch.setattr(inbox.shutil, "disk_usage", lambda _: free)
    answers = [begin(sending, f"memo{n}.wav", 100 * 10**6).status_code for n in range(12)]
    assert answers == [200] + [503] * 11
    small = [begin(sending, f"memo{n}.wav", 10**6).status_code for n in range(100)]
    taken = 200 * 10**6 + 2 * 10**6 * small.count(200)
    assert free.free - taken >= inbox.ROOM  # what is decided can still be written
    assert 503 in small


def test_a_piece_is_not_taken_where_the_record_would_have_no_room_left(
    sending, filled, memo, monkeypatch
):
    from desk.web import inbox

    number = begin(sending, "memo.wav", len(memo)).json()["id"]
    full = inbox.shutil._ntuple_diskusage(10**10, 10**10 - 10**6, 10**6)
    monkeypatch.setattr(inbox.shutil, "disk_usage", lambda _: full)
    assert sending.post(f"/upload/{number}?at=0", content=memo[:1000]).status_code == 503
    assert sending.get(f"/upload/{number}").json()["have"] == 0


def test_a_phone_has_only_so_many_files_on_their_way_and_they_die_in_an_hour(filled):
    import os
    import time

    from capture.errors import InputError
    from desk.web import inbox

    box = filled.desk.inbox
    mine = [box.begin(f"memo{n}.wav", 10, sender="phone") for n in range(inbox.MAX_EACH)]
    with pytest.raises(InputError, match="too many files"):
        box.begin("more.wav", 10, sender="phone")
    assert box.begin("other.wav", 10, sender="another phone")
    then = time.time() - 3601
    for one in mine:
        os.utime(box.part(one), (then, then))
    assert box.begin("more.wav", 10, sender="phone")
    assert len(box.of("phone")) == 1


def test_a_note_that_an_earlier_version_left_does_not_end_all_uploads(filled):
    import json

    box = filled.desk.inbox
    box.begin("memo.wav", 10)
    for number, ms in ((1, 1e300), (2, "soon"), (3, [])):
        note = {"name": "memo.wav", "size": 10, "modified_ms": ms}
        (box.folder / f"{number:032x}.json").write_text(json.dumps(note), "utf-8")
        (box.folder / f"{number:032x}.wav").touch()
    assert box.begin("memo2.wav", 10)
