"""Taking in, with stand-in engines: what is kept, what is left, what a second run finds."""

from __future__ import annotations

import errno
import os
import shutil
import threading
from pathlib import Path

import pytest

from capture.vault import Vault
from record import media
from record.store import Store


def values(cowlnote) -> dict[str, object]:
    """What was understood; the day that is offered where nobody says it is tested by itself."""
    found = cowlnote("drafts", "--json").data
    return {d["name"]: d["value"] for d in found if d["name"] != "service_date"}


def left(ran) -> dict[str, str]:
    return {Path(one["file"]).name: one["why"] for one in ran.data["left"]}


def take(cowlnote, *paths: object):
    return cowlnote("intake", *paths, "--json")


def test_a_folder_becomes_drafts_of_one_job_and_nothing_is_changed_in_it(cowlnote, folder, home):
    before = {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}
    ran = take(cowlnote, folder)
    assert ran.code == 0
    assert (ran.data["taken"], ran.data["memos"], ran.data["photos"]) == (3, 2, 1)
    assert ran.data["jobs"] == [1]
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}
    assert {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()} == before
    assert len(list(Vault(home / "vault").kept())) == 3


def test_said_at_is_the_start_of_the_memo_plus_the_second(cowlnote, folder):
    take(cowlnote, folder)
    torque = next(d for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque")
    assert torque["media"] == "Recording 2026-03-14 09.20.00.wav"
    assert torque["said_at"].startswith("2026-03-14T09:20:0")
    assert torque["said_at"].endswith("-05:00")  # read in the profile's zone


def test_a_second_intake_takes_nothing_twice_and_hears_nothing_twice(cowlnote, folder, engines):
    take(cowlnote, folder)
    drafts = cowlnote("drafts", "--json").data
    calls = list(engines.ear.calls)
    ran = take(cowlnote, folder)
    assert (ran.data["taken"], ran.data["already"]) == (0, 3)
    assert engines.ear.calls == calls
    assert cowlnote("drafts", "--json").data == drafts


def test_the_same_file_under_two_names_is_one(cowlnote, folder):
    shutil.copy2(folder / "IMG_0001.jpg", folder / "IMG_0001 copy.jpg")
    assert take(cowlnote, folder).data["taken"] == 3


def test_what_was_decided_stays_decided_after_a_second_intake(cowlnote, folder):
    take(cowlnote, folder)
    ids = [d["id"] for d in cowlnote("drafts", "--json").data]
    cowlnote("confirm", *ids, "--by", "Ines Invented")
    take(cowlnote, folder)
    assert cowlnote("drafts", "--json").data == []
    states = [d["state"] for d in cowlnote("drafts", "--all", "--json").data]
    assert states == ["confirmed"] * len(ids)


def test_a_photo_and_a_memo_that_differ_are_one_draft_with_a_doubt(cowlnote, folder, engines):
    engines.eye.shows["IMG_0001.jpg"] = ("tach", "drum", "2346.6")
    take(cowlnote, folder)
    found = [d for d in cowlnote("drafts", "--json").data if d["name"] == "tach_time"]
    assert len(found) == 1
    assert found[0]["doubts"]
    assert {found[0]["value"], *(a["value"] for a in found[0]["alternatives"])} >= {2345.6, 2346.6}


def test_a_tach_time_below_the_last_one_of_the_profile_is_doubted(cowlnote, folder, engines):
    engines.ear.says["Recording 2026-03-14 09.12.05.wav"] = "tach reads one two zero zero point one"
    engines.eye.shows = {}
    take(cowlnote, folder)
    tach = next(d for d in cowlnote("drafts", "--json").data if d["name"] == "tach_time")
    assert any("2298.1" in doubt for doubt in tach["doubts"])


def test_a_thousand_other_files_are_one_line_and_the_good_ones_are_taken(cowlnote, folder):
    for number in range(1000):
        (folder / f"page{number}.txt").write_text("not ours", "utf-8")
    ran = cowlnote("intake", folder)
    assert ran.code == 0
    assert "3 memos and photos found, 1000 other files passed over" in ran.err
    assert "page" not in ran.err + ran.out


BAD = {
    "empty.m4a": b"",
    "empty.jpg": b"",
    "text.m4a": b"These are words and no sound at all.\n" * 30,
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_one_line_and_the_rest_is_taken(cowlnote, folder, engines, name):
    (folder / name).write_bytes(BAD[name])
    ran = take(cowlnote, folder)
    assert ran.code == 8
    assert list(left(ran)) == [name]
    assert ran.data["taken"] >= 3
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}
    complaints = [line for line in ran.err.splitlines() if line.startswith("left: ")]
    assert len(complaints) == 1
    assert name in complaints[0]


def test_a_truncated_memo_gives_one_line_and_keeps_its_bytes(cowlnote, folder, home):
    whole = next(folder.glob("*.wav")).read_bytes()
    (folder / "cut.wav").write_bytes(whole[:30])
    ran = take(cowlnote, folder)
    assert ran.code == 8
    assert list(left(ran)) == ["cut.wav"]
    assert whole[:30] in [
        Vault(home / "vault").path(k.sha256).read_bytes() for k in Vault(home / "vault").kept()
    ]


def test_a_path_that_is_not_there_is_named_and_the_others_are_taken(cowlnote, folder):
    ran = take(cowlnote, folder / "nowhere", folder)
    assert ran.code == 8
    assert left(ran) == {"nowhere": "is not there; look at how it is spelt"}
    assert ran.data["taken"] == 3


def test_only_a_path_that_is_not_there_is_an_input_error(cowlnote, folder):
    ran = take(cowlnote, folder / "nowhere")
    assert ran.code == 3
    assert ran.err.count("\n") == 1


def test_silence_makes_no_draft_and_is_no_failure(cowlnote, folder, engines, sound):
    engines.ear.says = {}
    engines.eye.shows = {}
    ran = take(cowlnote, folder)
    assert (ran.code, ran.data["drafts"]) == (0, 0)
    assert cowlnote("drafts").out == "nothing waits\n"


def test_a_photo_without_exif_is_taken_and_its_time_is_doubted_and_its_job_is_the_batchs(
    cowlnote, folder, photo, engines
):
    plain = photo(folder / "scan.jpg")
    os.utime(plain, (1.6e9, 1.6e9))
    engines.eye.shows["scan.jpg"] = ("label", "text", "P/N QF-318B")
    ran = take(cowlnote, folder)
    assert (ran.code, ran.data["taken"], ran.data["jobs"]) == (0, 4, [1])
    assert "scan.jpg: " in ran.err


@pytest.mark.parametrize("way", ["damaged", "memory"])
def test_an_engine_that_fails_on_one_memo_leaves_it_and_hears_the_rest(
    cowlnote, folder, engines, failing_ear, way
):
    engines.ear = failing_ear(way, after=1, inner=engines.ear)
    ran = take(cowlnote, folder)
    assert ran.code == 8
    assert len(ran.data["left"]) == 1
    assert values(cowlnote)["tach_time"] == 2345.6


def test_without_a_model_all_is_kept_and_a_later_run_hears_it(
    cowlnote, folder, engines, failing_ear
):
    good = engines.ear
    engines.ear = failing_ear("no model")
    ran = take(cowlnote, folder)
    assert ran.code == 4
    assert len([line for line in ran.err.splitlines() if "model" in line]) == 1
    engines.ear = good
    assert take(cowlnote, folder).code == 0
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}


def test_a_run_that_is_killed_midway_is_finished_by_the_next(
    cowlnote, folder, engines, failing_ear
):
    good = engines.ear
    engines.ear = failing_ear("killed", after=1, inner=good)
    assert take(cowlnote, folder).code == 130
    engines.ear = good
    ran = take(cowlnote, folder)
    assert ran.code == 0
    assert good.calls == sorted(set(good.calls))  # nothing was heard twice
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}


def test_what_a_killed_run_kept_is_heard_even_when_its_folder_is_gone(
    cowlnote, folder, engines, failing_ear, sound
):
    good = engines.ear
    engines.ear = failing_ear("no model")
    take(cowlnote, folder)
    engines.ear = good
    shutil.rmtree(folder)
    take(cowlnote, sound(folder / "Recording 2026-03-14 09.40.00.wav", 440))
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}


def test_a_full_disk_stops_the_run_in_one_line_with_nothing_half_written(
    cowlnote, folder, home, engines, monkeypatch
):
    real = os.write
    written = []

    def full(handle: int, data: bytes) -> int:
        written.append(len(data))
        if len(written) > 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data)

    monkeypatch.setattr("capture.vault.os.write", full)
    ran = take(cowlnote, folder)
    assert ran.code == 5
    assert "the disk is full" in ran.err
    monkeypatch.undo()
    vault = Vault(home / "vault")
    assert len(list(vault.kept())) == 1
    assert vault.verify() == []


def test_a_home_that_cannot_be_written_is_one_line(cowlnote, folder, tmp_path):
    (tmp_path / "file").write_text("no folder", "utf-8")
    ran = cowlnote("intake", folder, at=tmp_path / "file" / "home")
    assert ran.code == 5
    assert ran.err.count("\n") == 1


def test_a_vault_that_cannot_be_made_is_one_line(cowlnote, folder, home):
    (home / "vault").write_text("a file where the folder should be", "utf-8")
    ran = take(cowlnote, folder)
    assert ran.code == 5
    assert [line for line in ran.err.splitlines() if "vault" in line] == ran.err.splitlines()[-1:]


def test_a_wrong_clock_can_be_put_right_for_a_batch(cowlnote, folder):
    cowlnote("intake", folder, "--clock-shift", "+1h30m")
    torque = next(d for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque")
    assert torque["said_at"].startswith("2026-03-14T10:50:0")


def test_a_shift_that_is_no_shift_is_refused_before_anything_is_taken(cowlnote, folder, home):
    ran = cowlnote("intake", folder, "--clock-shift", "soon")
    assert ran.code == 3
    assert not (home / "vault").exists()


def test_the_time_said_in_a_memo_puts_that_recorders_clock_right(cowlnote, folder, engines, home):
    engines.ear.says["Recording 2026-03-14 09.12.05.wav"] = "time now is ten forty two"
    ran = take(cowlnote, folder)
    assert "slow by the time said in Recording 2026-03-14 09.12.05.wav" in ran.err
    torque = next(d for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque")
    assert torque["said_at"].startswith("2026-03-14T10:49:")
    store = Store.open(home, read_only=True)
    with store.session(write=False) as session:
        began = {m.original: m.began for m in media.media(session, 1)}
    store.close()
    assert began["Recording 2026-03-14 09.20.00.wav"].source == "spoken"
    assert began["IMG_0001.jpg"].source == "exif"  # another device


def test_a_job_can_be_named_and_must_be_there(cowlnote, folder):
    assert cowlnote("intake", folder, "--job", 5).code == 7
    assert cowlnote("intake", folder, "--kind", "overhaul").code == 3


def test_find_gives_the_file_and_the_second(cowlnote, folder):
    take(cowlnote, folder)
    ran = cowlnote("find", "torqued", "--from", "2026-03-14", "--to", "2026-03-14")
    assert "Recording 2026-03-14 09.20.00.wav 0:00  torqued the filter" in ran.out
    assert cowlnote("find", "torqued", "--to", "2026-03-13").out == "nothing found\n"
    hit = cowlnote("find", "torqued", "--json").data[0]
    assert (hit["media"], hit["second"], hit["job"]) == (
        "Recording 2026-03-14 09.20.00.wav",
        0.0,
        1,
    )


def test_without_a_profile_files_are_taken_and_the_zone_is_said(cowlnote, folder, tmp_path):
    ran = cowlnote("intake", folder, at=tmp_path / "bare")
    assert ran.code == 0
    assert "no profile in" in ran.err


def test_memos_a_week_apart_are_two_jobs_and_each_keeps_its_own_values(
    cowlnote, folder, engines, sound
):
    later = "Recording 2026-03-21 08.00.00.wav"
    sound(folder / later, 500)
    engines.ear.says[later] = "tach reads two three five one point zero"
    ran = take(cowlnote, folder)
    assert ran.data["jobs"] == [1, 2]
    tach = {
        d["job"]: d["value"] for d in cowlnote("drafts", "--json").data if d["name"] == "tach_time"
    }
    assert tach == {1: 2345.6, 2: 2351}
    second = [d["name"] for d in cowlnote("drafts", "--job", 2, "--json").data]
    assert sorted(second) == ["service_date", "tach_time"]


def test_a_second_folder_of_the_same_morning_joins_the_job(
    cowlnote, folder, engines, sound, tmp_path
):
    take(cowlnote, folder)
    more = "Recording 2026-03-14 11.00.00.wav"
    engines.ear.says[more] = "cowl is back on"
    ran = take(cowlnote, sound(tmp_path / "recorder" / more, 500))
    assert ran.data["jobs"] == [1]
    assert set(values(cowlnote)) == {"tach_time", "filter_torque", "cowling_installed"}


def test_a_closed_job_takes_no_more_and_what_comes_later_opens_another(
    cowlnote, folder, engines, sound, tmp_path
):
    take(cowlnote, folder)
    ids = [d["id"] for d in cowlnote("drafts", "--json").data]
    cowlnote("confirm", *ids, "--by", "Ines Invented")
    cowlnote("close", 1, "--by", "Ines Invented", "--because", "a trial")
    more = "Recording 2026-03-14 11.00.00.wav"
    engines.ear.says[more] = "cowl is back on"
    ran = take(cowlnote, folder, sound(tmp_path / "recorder" / more, 500))
    assert ran.code == 0
    assert ran.data["jobs"] == [1, 2]
    waiting = [d for d in cowlnote("drafts", "--json").data if d["state"] == "waiting"]
    assert {d["job"] for d in waiting} == {2}


def died(home, name: str, times: int) -> None:
    """Leave behind what so many runs leave that were killed with a file in hand."""
    from capture.trying import Trying

    store = Store.open(home)
    with store.session(write=False) as session:
        sha = next(m.sha256 for m in media.media(session) if m.name == name)
    store.close()
    note = Trying(home / "unfinished")._note(sha)
    note.parent.mkdir(exist_ok=True)
    note.write_text(str(times), "ascii")


def take_what_is_left(home, engines, catalogue):
    """Run as the desk does at its start: without a path."""
    from desk.intake import take_in
    from desk.settings import load
    from desk.web.runner import Runner

    store = Store.open(home)
    here = load(home, {})
    report = Runner(lambda _: None)
    try:
        vault = Vault(here.vault_dir)
        return take_in([], here, store, vault, engines.ear, engines.eye, report, catalogue)
    finally:
        store.close()


def test_a_file_that_ended_a_run_is_heard_after_the_good_ones_are_drafted(
    cowlnote, folder, home, engines, failing_ear, catalogue
):
    first, second = sorted(p.name for p in folder.glob("*.wav"))
    good, engines.ear = engines.ear, failing_ear("no model")
    take(cowlnote, folder)
    died(home, first, 1)
    engines.ear = failing_ear("killed", after=1, inner=good)
    with pytest.raises(KeyboardInterrupt):
        take_what_is_left(home, engines, catalogue)
    assert good.calls == [second]
    assert values(cowlnote)["filter_torque"] == 17  # drafted before the other was tried again


def test_several_at_once_give_what_one_after_another_gives_and_no_suspect_is_among_them(
    cowlnote, folder, home, engines, failing_ear, catalogue
):
    first, second = sorted(p.name for p in folder.glob("*.wav"))
    good, engines.ear = engines.ear, failing_ear("no model")
    take(cowlnote, folder)
    died(home, first, 1)
    engines.ear, seen = good, []
    good.at_once, hear = 2, good.hear
    good.hear = lambda *given: seen.append(threading.current_thread()) or hear(*given)
    take_what_is_left(home, engines, catalogue)
    assert good.calls == [second, first]
    assert seen[0] is not threading.current_thread()
    assert seen[1] is threading.current_thread()  # heard alone, so that it is known which it was
    assert values(cowlnote) == {"tach_time": 2345.6, "filter_torque": 17}


def test_a_file_that_ended_two_runs_is_set_aside_by_name_and_heard_when_named_again(
    cowlnote, folder, home, engines, failing_ear, catalogue
):
    bad = sorted(p.name for p in folder.glob("*.wav"))[0]
    good, engines.ear = engines.ear, failing_ear("no model")
    take(cowlnote, folder)
    engines.ear = good
    died(home, bad, 2)
    summary = take_what_is_left(home, engines, catalogue)
    assert [name for name, _ in summary.left] == [bad]
    assert "ended the program twice" in summary.left[0][1]
    assert bad not in good.calls
    assert take_what_is_left(home, engines, catalogue).left == []
    assert take(cowlnote, folder / bad).code == 0
    assert good.calls[-1] == bad
    assert values(cowlnote)["tach_time"] == 2345.6


def test_a_decoder_that_dies_twice_of_a_file_sets_it_aside(cowlnote, folder, engines, monkeypatch):
    from capture import audio
    from capture.errors import DiedError

    listen = audio.listen

    def dies(path):
        if len(path.read_bytes()) == 32_044 and path.name[0] in "0123456789abcdef":
            raise DiedError
        return listen(path)

    monkeypatch.setattr(audio, "listen", dies)
    first = take(cowlnote, folder)
    assert first.code == 8
    assert {"it is tried once more, last"} == {w.split("; ")[1] for w in left(first).values()}
    second = take(cowlnote, folder)
    assert all("set aside" in why for why in left(second).values())
    assert len(left(second)) == 2


@pytest.mark.skipif(os.name == "nt", reason="names and pipes of other systems")
def test_odd_names_times_depths_and_pipes_stop_nothing(cowlnote, folder, engines, sound, request):
    from tests.whole.hostile import clear

    request.addfinalizer(lambda: clear(folder))
    deep = folder
    for _ in range(1200):
        deep = deep / "d"
        deep.mkdir()
    sound(deep / "Recording 2026-03-14 09.30.00.wav", 510)
    odd = Path(os.fsdecode(os.fsencode(folder) + b"/Recording\xe9 2026-03-14 09.31.00.wav"))
    sound(odd, 520)
    old = sound(folder / "old.wav", 530)
    os.utime(old, (-62_200_000_000, -62_200_000_000))
    os.mkfifo(folder / "pipe.wav")
    (folder / "zero.jpg").symlink_to("/dev/zero")
    ran = take(cowlnote, folder)
    assert ran.code == 8
    assert left(ran) == dict.fromkeys(("pipe.wav", "zero.jpg"), "this is no file; leave it out")
    assert ran.data["taken"] == 6
    assert "Recording\ufffd 2026-03-14 09.31.00.wav" in engines.ear.calls
    assert take(cowlnote, folder / "pipe.wav").code == 8


def test_a_tif_is_taken_in(cowlnote, folder, engines, photo):
    photo(folder / "scan.tif", "2026:03:14 09:40:00")
    engines.eye.shows["scan.tif"] = ("label", "text", "P/N QF-318B")
    assert take(cowlnote, folder).data["photos"] == 2
