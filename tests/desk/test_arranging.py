"""Moving, splitting, joining, setting aside on the command line; `begin` at a terminal."""

from __future__ import annotations

import pytest

from desk import drafting, say
from desk.settings import load
from record import profiles, queue
from record.store import Store

WHO = ("--by", "Ines Invented")
A, B, C = "20260314_091205.wav", "20260314_092000.wav", "20260321_080000.wav"


@pytest.fixture
def two_jobs(cowlnote, engines, sound, tmp_path):
    """Two jobs of one aircraft: an oil change told in two memos, a tire in a third."""
    engines.ear.says = {
        A: "tach reads two three four five point six",
        B: "torqued the filter to seventeen foot pounds",
        C: "nose tire twenty four psi",
    }
    for pitch, name in enumerate(engines.ear.says):
        sound(tmp_path / "phone" / name, 300 + 20 * pitch)
    ran = cowlnote("intake", tmp_path / "phone", "--json")
    assert ran.data["jobs"] == [1, 2]


def files(cowlnote, job: int) -> list[str]:
    return [f["file"] for f in cowlnote("jobs", "--job", job, "--json").data[0]["files"]]


def said(cowlnote, job: int) -> dict[str, object]:
    found = cowlnote("drafts", "--job", job, "--json").data
    return {d["name"]: d["value"] for d in found if d["name"] != "service_date"}


def test_a_memo_is_moved_to_another_job_with_its_drafts(cowlnote, two_jobs):
    ran = cowlnote("move", B, "--to", 2, *WHO, "--because", "not of that day")
    assert ran.code == 0
    assert (files(cowlnote, 1), files(cowlnote, 2)) == ([A], [B, C])
    assert said(cowlnote, 1) == {"tach_time": 2345.6}
    assert said(cowlnote, 2) == {"filter_torque": 17, "tire_pressure": 24}
    told = cowlnote("jobs", "--job", 2).words
    assert f"{B}: moved from job 1 to job 2 by Ines Invented" in told
    assert "(not of that day)" in told


def test_what_was_decided_waits_again_where_it_was_moved(cowlnote, two_jobs):
    torque = next(
        d["id"] for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque"
    )
    cowlnote("confirm", torque, *WHO)
    ran = cowlnote("move", B, "--to", "new", *WHO)
    assert "1 decision taken back" in ran.out
    assert said(cowlnote, 3) == {"filter_torque": 17}
    assert "17 ft-lb" not in cowlnote("entry", "--job", 1).out
    assert cowlnote("check").code == 0


def test_a_job_is_split_and_joined_again(cowlnote, two_jobs):
    cowlnote("split", 1, B, *WHO)
    assert (files(cowlnote, 1), files(cowlnote, 3)) == ([A], [B])
    cowlnote("join", 3, 1, *WHO)
    assert files(cowlnote, 1) == [A, B]
    assert said(cowlnote, 1) == {"tach_time": 2345.6, "filter_torque": 17}
    assert [j["id"] for j in cowlnote("jobs", "--json").data] == [1, 2]
    assert [j["id"] for j in cowlnote("jobs", "--all", "--json").data] == [1, 2, 3]
    assert cowlnote("check").code == 0


def test_a_job_is_split_from_a_file_on(cowlnote, two_jobs):
    cowlnote("join", 2, 1, *WHO)
    assert files(cowlnote, 1) == [A, B, C]
    cowlnote("split", 1, B, "--rest", *WHO)
    assert (files(cowlnote, 1), files(cowlnote, 3)) == ([A], [B, C])


@pytest.mark.parametrize("act", ["move", "split", "kind"])
def test_another_writes_while_what_was_arranged_is_read(cowlnote, two_jobs, home, monkeypatch, act):
    """By order, not by time: whoever waited for the reading could not write in its midst."""
    order, really = [], drafting.read_memos

    def reading(*given):
        order.append("reading")
        other = Store.open(home)
        with other.session() as session:  # where the record is locked this ends with an error
            profiles.note(session, "N0417Q", [("note", "", str(len(order)))], WHO[1], "meanwhile")
        other.close()
        order.append("written")
        return really(*given)

    monkeypatch.setattr(drafting, "read_memos", reading)
    acts = {"move": ("move", B, "--to", 2), "split": ("split", 1, B), "kind": ("kind", 1, "tire")}
    ran = cowlnote(*acts[act], *WHO)
    assert ran.code == 0, ran
    assert order[:2] == ["reading", "written"]
    assert order.count("reading") == order.count("written")
    assert cowlnote("check").code == 0
    if act == "move":
        assert said(cowlnote, 2) == {"filter_torque": 17, "tire_pressure": 24}


def test_two_memos_that_tell_the_same_leave_one_draft_when_joined(cowlnote, two_jobs):
    cowlnote("split", 1, B, *WHO)
    before = len(cowlnote("drafts", "--job", 1, "--json").data)
    cowlnote("join", 3, 1, *WHO)
    found = [d["name"] for d in cowlnote("drafts", "--job", 1, "--json").data]
    assert len(found) == len(set(found)) == before + 1  # one date, not two


def test_a_memo_set_aside_is_not_counted_and_comes_back(cowlnote, two_jobs):
    ran = cowlnote("aside", B, *WHO, "--because", "only a trial")
    assert ran.code == 0
    assert said(cowlnote, 1) == {"tach_time": 2345.6}
    assert "set aside" in cowlnote("jobs", "--job", 1).out
    assert cowlnote("back", B, *WHO).code == 0
    assert said(cowlnote, 1) == {"tach_time": 2345.6, "filter_torque": 17}
    assert cowlnote("check").code == 0


def test_a_job_set_aside_is_not_counted_and_comes_back(cowlnote, two_jobs):
    cowlnote("aside", "--job", 2, *WHO, "--because", "only a trial")
    assert [j["id"] for j in cowlnote("jobs", "--json").data] == [1]
    assert {d["job"] for d in cowlnote("drafts", "--json").data} == {1}
    assert "set aside" in cowlnote("jobs", "--all").out
    cowlnote("back", "--job", 2, *WHO)
    assert {d["job"] for d in cowlnote("drafts", "--json").data} == {1, 2}


def test_a_second_intake_leaves_what_was_arranged_as_it_is(cowlnote, two_jobs, tmp_path):
    cowlnote("move", B, "--to", 2, *WHO)
    cowlnote("aside", A, *WHO, "--because", "a trial")
    cowlnote("intake", tmp_path / "phone")
    assert files(cowlnote, 2) == [B, C]
    assert said(cowlnote, 1) == {}


def test_the_kind_and_the_aircraft_of_a_job_are_said(cowlnote, two_jobs):
    assert "offered" in cowlnote("jobs").out
    cowlnote("kind", 1, "battery", *WHO)
    cowlnote("aircraft", 2, "n0655x", *WHO)
    one, two = cowlnote("jobs", "--json").data
    assert (one["kind"], one["kind_offered"]) == ("battery", "")
    assert two["aircraft"] == "N0655X"
    assert cowlnote("check").code == 0


def test_a_clock_is_put_right_by_hand(cowlnote, two_jobs):
    cowlnote("clock", A, B, "--shift", "+1h", *WHO)
    made = cowlnote("jobs", "--job", 1, "--json").data[0]["files"]
    assert [f["began"][11:16] for f in made] == ["10:12", "10:20"]
    torque = next(d for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque")
    assert torque["said_at"][11:16] == "10:20"


@pytest.mark.parametrize(
    ("command", "code", "said"),
    [
        (("move", "no.wav", "--to", 2), 7, "there is no memo or photo no.wav"),
        (("move", A, "--to", 9), 7, "there is no job 9"),
        (("move", A, "--to", "x"), 3, "write a job's number, or new"),
        (("split", 1, A, B), 7, "that is all of job 1"),
        (("split", 1, C), 7, f"no memo or photo {C} in job 1"),
        (("join", 1, 1), 7, "cannot be joined to itself"),
        (("kind", 1, "overhaul"), 3, "no such kind of job: overhaul; the kinds are"),
        (("aside", A, "--because", " "), 7, "needs a reason"),
        (("aside", "--because", "x"), 3, "nothing was named"),
        (("back", A), 7, "is not set aside"),
        (("clock", A, "--shift", "soon"), 3, "--shift soon: will not do"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_nothing_is_changed(
    cowlnote, two_jobs, command, code, said
):
    before = cowlnote("jobs", "--json").data
    ran = cowlnote(*command, *WHO)
    assert ran.code == code
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert cowlnote("jobs", "--json").data == before


def test_drafts_lists_what_waits_and_with_all_the_rest(cowlnote, two_jobs):
    first = cowlnote("drafts", "--json").data[0]["id"]
    cowlnote("confirm", first, *WHO)
    assert first not in [d["id"] for d in cowlnote("drafts", "--json").data]
    assert first in [d["id"] for d in cowlnote("drafts", "--all", "--json").data]


def test_what_goes_is_no_witness_any_more_and_stands_for_itself_where_it_went(
    cowlnote, folder, home
):
    """The tach is said in a memo and seen in a photo: two witnesses of one draft."""
    memo, picture = "Recording 2026-03-14 09.12.05.wav", "IMG_0001.jpg"
    cowlnote("intake", folder)

    def witnesses(job: int) -> set[str]:
        store = Store.open(home, read_only=True)
        with store.session(write=False) as session:
            found = [q.draft for q in queue.drafts(session, job) if q.draft.name == "tach_time"]
        store.close()
        return {name for d in found for name in (d.media, *(e.media for e in d.also))}

    assert witnesses(1) == {memo, picture}
    cowlnote("move", picture, "--to", "new", *WHO)
    assert (witnesses(1), witnesses(2)) == ({memo}, {picture})
    cowlnote("join", 2, 1, *WHO)
    assert witnesses(1) == {memo, picture}
    cowlnote("aside", memo, *WHO, "--because", "a trial")
    assert witnesses(1) == {picture}
    cowlnote("back", memo, *WHO)
    assert witnesses(1) == {memo, picture}
    assert len([d for d in cowlnote("drafts", "--json").data if d["name"] == "tach_time"]) == 1


# several aircraft


def test_a_second_aircraft_gets_a_profile_of_its_own(cowlnote, home):
    ran = cowlnote("begin", "N0655X")
    assert ran.code == 0
    assert (home / "aircraft" / "N0655X.toml").is_file()
    here = load(home, {})
    assert here.profile.registration == "N0417Q"
    assert here.profile_of("n0655x").registration == "N0655X"
    assert load(home, {}, "N0655X").profile.registration == "N0655X"
    assert load(home, {}, "N0655X").profile_of("N0417Q").sump_capacity == 8
    assert cowlnote("begin", "N0655X").code == 3


def test_a_command_can_be_about_another_aircraft(cowlnote, two_jobs, home):
    from typer.testing import CliRunner

    from desk.cli import app

    ran = CliRunner().invoke(app, ["--home", str(home), "--aircraft", "N0655X", "history"])
    assert ran.exit_code == 0
    assert "N0417Q" not in ran.stdout


# begin at a terminal


def at_a_terminal(monkeypatch, *answers: str) -> list[str]:
    asked: list[str] = []
    given = iter(answers)

    def ask(question: str) -> str:
        asked.append(question)
        return next(given)

    monkeypatch.setattr(say, "is_asking", lambda: True)
    monkeypatch.setattr(say, "ask", ask)
    return asked


def test_begin_asks_for_what_it_needs_at_a_terminal(cowlnote, tmp_path, monkeypatch):
    home = tmp_path / "new"
    first = ("N0417Q", "Mars", "Europe/Berlin", "US", "", "")
    answers = (*first, "eight", "8", "SAE 50", "", "16 to 18", "the tach", "", "", "", "")
    asked = at_a_terminal(monkeypatch, *answers)
    ran = cowlnote("begin", at=home)
    assert ran.code == 0
    assert "registration" in asked[0]
    assert "no such time zone: Mars" in ran.err
    made = load(home, {}).profile
    assert (made.registration, made.zone.key) == ("N0417Q", "Europe/Berlin")
    assert (made.sump_capacity, made.oil, made.filter_torque) == (8, "SAE 50", (16, 18))
    assert (made.filter_part_number, made.last.tach_time) == (None, None)


def test_begin_in_a_script_asks_nothing(cowlnote, tmp_path, monkeypatch):
    asked = at_a_terminal(monkeypatch)
    monkeypatch.setattr(say, "is_asking", lambda: False)
    assert cowlnote("begin", "N0417Q", at=tmp_path / "new").code == 0
    assert asked == []
