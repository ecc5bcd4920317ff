"""Typed values on the command line: doubts, reasons, corrections, late entries, fields as said."""

from __future__ import annotations

import re

import pytest

from capture.errors import InputError
from record import chain, jobs, queue, typed
from record.store import Store
from tests.desk.conftest import MORNING

WHO = ("--by", "Ines Invented")
BO = ("--by", "Bo Invented")


@pytest.fixture
def one(draft, queued):
    """A torque and a tach time that wait."""
    return queued([draft("filter_torque", "17", "ft-lb"), draft("tach_time", "2345.6", "h")])


def named(ran):
    """Give the entry that a refusal names."""
    return re.search(r"--replaces (e\d+)", ran.err).group(1)


@pytest.mark.parametrize(
    ("command", "doubt"),
    [
        (("amend", "1", "175", "--because", "misread"), "outside the limits of 16 to 18 ft-lb"),
        (("add", "tach time", "18426"), "not possible yet"),
        (("add", "service date", "2999-03-14"), "later than"),
        (("add", "oil added", "9"), "more than the sump takes (8 qt)"),
    ],
)
def test_a_doubtful_typed_value_is_refused_until_a_reason_is_given(
    cowlnote, queued, draft, command, doubt
):
    queued([draft("filter_torque", "17", "ft-lb")])
    ran = cowlnote(*command, *WHO)
    assert ran.code == 7
    assert doubt in ran.err
    assert "--although TEXT" in ran.err
    assert ran.err.count("\n") == 1
    assert cowlnote("drafts", "--json").data[0]["state"] == "waiting"
    assert cowlnote(*command, *WHO, "--although", "looked twice").code == 0
    record = cowlnote("entry").words
    assert "looked twice" in record
    assert doubt in record


def test_what_stands_is_replaced_only_by_name_and_with_a_reason(cowlnote, one):
    cowlnote("confirm", one[1], *WHO)
    ran = cowlnote("add", "tach", "2345.7", *BO)
    assert ran.code == 7
    assert "entered already as 2345.6 h by Ines Invented from memo.wav" in ran.err
    ran = cowlnote("add", "tach", "2345.7", *BO, "--replaces", named(ran))
    assert ran.code == 7
    assert "say why" in ran.err
    number = re.search(r"e\d+", cowlnote("add", "tach", "2345.7", *BO).err).group()
    told = ("--replaces", number, "--because", "read again off the dial")
    assert cowlnote("add", "tach", "2345.7", *BO, *told).code == 0
    assert "2345.7 h" in cowlnote("entry").words


def test_every_decision_says_its_job_and_aircraft(cowlnote, one):
    for command in (
        ("confirm", "1"),
        ("undo", "1"),
        ("amend", "1", "16.5", "--because", "misheard"),
        ("reject", "2", "--because", "not said"),
        ("add", "oil grade", "SAE 50"),
        ("correct", "1", "17", "--was", "16.5", "--because", "heard again"),
    ):
        ran = cowlnote(*command, *WHO)
        assert ran.code == 0, ran.err
        assert "job 1, N0417Q" in ran.out, command


def test_a_draft_that_changed_since_it_was_listed_is_not_decided_by_its_old_number(
    cowlnote, one, queued, draft
):
    queued([draft("filter_torque", "18", "ft-lb", start=3.5)])  # the same memo, read anew
    ran = cowlnote("confirm", "1", *WHO)
    assert ran.code == 7
    assert "it is 1b now, filter torque 18 ft-lb" in ran.err
    assert "1b" in cowlnote("drafts").out
    assert cowlnote("confirm", "1b", *WHO).code == 0


def test_a_correction_names_what_it_saw_and_keeps_the_link_to_the_sound(cowlnote, one):
    cowlnote("confirm", *one, *WHO)
    told = ("2345.7", "--because", "read again", *BO)
    ran = cowlnote("correct", "tach time", *told)
    assert ran.code == 7
    number = re.search(r"entry (e\d+) by Ines Invented from memo\.wav", ran.err).group(1)
    assert cowlnote("correct", "tach time", *told, "--was", "2345.5").code == 7
    assert cowlnote("correct", number, *told).code == 0
    assert cowlnote("correct", number, *told).code == 7  # it counts no longer
    found = cowlnote("entry", "--json").data["entries"]
    tach = next(e for e in found if e["name"] == "tach_time")
    assert (tach["value"], tach["media"], tach["start"]) == (2345.7, "memo.wav", 3.0)


def test_a_closed_job_is_corrected_with_doubts_and_takes_late_entries(cowlnote, one, home):
    cowlnote("confirm", *one, *WHO)
    assert cowlnote("close", "1", *WHO, "--because", "as far as it goes").code == 0
    ran = cowlnote("confirm", "1", *WHO)
    assert ran.code == 7
    told = ("--was", "2345.6", "--because", "misread", *BO)
    ran = cowlnote("correct", "tach time", "23456", *told)
    assert ran.code == 7
    assert "the figures of 2345.6" in ran.err
    assert cowlnote("correct", "tach time", "2345.7", *told).code == 0
    assert "no job is open" in cowlnote("add", "oil grade", "SAE 50", *BO).err
    late = ("add", "oil grade", "SAE 50", "--job", "1", *BO)
    assert "--because TEXT" in cowlnote(*late).err
    ran = cowlnote(*late, "--because", "found the note")
    assert ran.code == 0
    assert "late entry" in ran.out
    assert "late entry, typed by Bo Invented" in cowlnote("entry").words
    assert cowlnote(*late, "--because", "again").code == 7  # corrected, not added
    store = Store.open(home)
    with store.session() as session:
        assert chain.prove(session) is None
    store.close()


def test_withdrawing_needs_no_value_and_a_value_no_withdrawing(cowlnote, one):
    cowlnote("confirm", *one, *WHO)
    why = ("--was", "2345.6", "--because", "of the twin", *WHO)
    assert cowlnote("correct", "tach", *why).code == 3
    assert cowlnote("correct", "tach", "2345.7", "--withdraw", *why).code == 3
    assert cowlnote("correct", "tach", "--withdraw", *why).code == 0
    assert "2345.6 h" not in cowlnote("entry").words.partition("DRAFT LOGBOOK")[2]


def test_with_several_jobs_open_an_add_is_refused_with_their_list(cowlnote, one, home):
    store = Store.open(home)
    with store.session() as session:
        other = jobs.job_for(session, MORNING, new=True, aircraft="N0418Q")
        queue.add(session, other, "oil_grade", "SAE 50", "Ines Invented")
    store.close()
    ran = cowlnote("add", "oil added", "6", *WHO)
    assert ran.code == 7
    assert "--job 1: job 1, N0417Q" in ran.err
    assert f"--job {other}: job {other}, N0418Q" in ran.err
    assert cowlnote("add", "oil added", "6", *WHO, "--job", "1").code == 0


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("cowling installed", "cowling_installed"),
        ("cowling", "cowling_installed"),
        ("cowl", "cowling_installed"),
        ("cowling_installed", "cowling_installed"),
        ("Tach Time", "tach_time"),
        ("tach_time", "tach_time"),
        ("hobbs_time", "hour_meter_time"),
        ("hobbs", "hour_meter_time"),
        ("leaks", "leak_check"),
        ("oil level", "oil_level"),
        ("tyre pressure", "tire_pressure"),
    ],
)
def test_a_field_is_named_as_people_say_it(said, name):
    assert typed.named(said).name == name


@pytest.mark.parametrize(
    ("said", "answer"),
    [
        ("torque", "filter torque"),
        ("cowlng instaled", "nearest: cowling installed"),
        ("xyzzy", "`cowlnote fields` lists them all"),
    ],
)
def test_what_names_no_field_is_answered_with_the_nearest_and_the_list(said, answer):
    with pytest.raises(InputError) as told:
        typed.named(said)
    assert answer in str(told.value)
    assert "`cowlnote fields`" in str(told.value)


def test_fields_lists_each_with_its_unit_and_choices(cowlnote):
    out = cowlnote("fields").words
    assert "filter torque filter_torque ft-lb" in out
    assert "cowling installed cowling_installed yes or no" in out
    assert "plug torque" not in cowlnote("fields", "filter").words
    assert cowlnote("fields", "zeppelin").code == 3


def test_the_walk_plays_undoes_asks_again_and_names_files_by_their_own_names(
    cowlnote, one, monkeypatch
):
    from desk import player

    played = []
    monkeypatch.setattr(player, "play", lambda path, start, end: played.append((start, end)))
    keys = ["c", "u", "a", "175", "misheard", "175", "the wrench said so", "p", "c"]
    ran = cowlnote("review", *WHO, input="\n".join(keys) + "\n")
    assert "175 ft-lb is doubtful" in ran.out
    assert "2 decided by Ines Invented, 0 still waiting" in ran.out
    record = cowlnote("entry").words
    assert "175 ft-lb" in record
    assert "because the wrench said so" in record
