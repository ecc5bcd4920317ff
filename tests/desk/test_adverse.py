"""Bad news on the command line: its mark, word, caution and place, and what closing asks for."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from tests.desk.conftest import MORNING

WHO = "Ines Invented"
BAD = {
    "drain_closed": (False, None, "drain not closed"),
    "filter_safetied": (False, None, "filter not safetied"),
    "cowling_installed": (False, None, "cowling not on"),
    "metal_found": ("pieces", None, "metal in the filter"),
    "leak_check": ("fail", None, "a leak was found"),
    "oil_level": ("3.5", "qt", "oil low"),  # of the profile's 8
}
CAUTIONS = (
    "keep the filter",
    "call a licensed mechanic",
    "look again and check the level before flight",
    "Do not run or fly on it",
    "nothing runs while the drain is open",
    "Count tools and rags before the cowling goes on",
)


@pytest.fixture
def six(draft, queued):
    """The six adverse answers of the issue, waiting."""
    return queued([draft(name, value, unit) for name, (value, unit, _) in BAD.items()])


@pytest.fixture
def entered(six, cowlnote):
    assert cowlnote("confirm", *six, "--by", WHO).code == 0
    return six


def test_drafts_show_bad_news_first_with_mark_word_and_caution(six, queued, draft, cowlnote):
    queued([draft("tach_time", "2345.6", "h", doubts=("a doubt",))])
    out = cowlnote("drafts").words
    top, _, rest = out.partition("ALL ELSE")
    assert top.startswith("▲ BAD NEWS, 6 drafts")
    for _, _, word in BAD.values():
        assert f"▲ ADVERSE: {word}" in top
    for caution in CAUTIONS:
        assert caution in top
    assert "tach time" in rest
    assert "▲" not in rest


def test_the_terminal_review_shows_the_caution_before_it_asks(six, cowlnote):
    ran = cowlnote("review", "--by", WHO, input="q\n")
    assert "▲ ADVERSE" in ran.out


def test_checklist_gives_no_tick_to_bad_news(entered, cowlnote):
    out = cowlnote("checklist").out
    assert not re.search(r"^✓ .*(no|fail|pieces|3\.5)", out, re.MULTILINE)
    for label in ("drain closed", "filter safetied", "cowling installed", "metal found"):
        assert re.search(rf"^▲ +{label} .*entered, ADVERSE", out, re.MULTILINE), label
    words = " ".join(out.split())
    for caution in CAUTIONS:
        assert caution in words


def test_checklist_marks_bad_news_that_waits(six, cowlnote):
    out = cowlnote("checklist").out
    assert re.search(r"^▲ +leak check +\(fail\) +drafted, waiting, ADVERSE", out, re.MULTILINE)
    assert "0 entered, 6 drafted and waiting, 9 called for and never said" in out


def test_the_entry_has_open_lines_in_place_of_the_signature_lines(entered, cowlnote):
    entry = cowlnote("entry").out.partition("DRAFT LOGBOOK ENTRY")[2]
    for _, _, word in BAD.values():
        assert f"OPEN: {word}" in entry
    for line in ("Signature", "Certificate number", "Name  "):
        assert line not in entry
    assert "Nothing to sign here while this is open" in entry


def test_the_record_marks_bad_news_and_shows_the_caution(entered, cowlnote):
    record = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")[0]
    assert "▲ leak check fail ADVERSE" in record
    assert "✓" not in record
    for caution in CAUTIONS:
        assert caution in record


def test_bad_news_that_nobody_decided_keeps_the_entry_open_without_its_value(
    queued, draft, cowlnote
):
    queued([draft("leak_check", "fail")])
    entry = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")[2]
    assert "OPEN: leak check: what was said of it may be bad news" in entry
    assert "fail" not in entry.lower()
    assert "Signature" not in entry


def test_fine_metal_is_to_be_heeded_and_may_be_signed(queued, draft, cowlnote):
    cowlnote("confirm", *queued([draft("metal_found", "fine")]), "--by", WHO)
    entry = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")[2]
    assert "HEED: fine metal (metal found: fine). Stop, keep the filter" in entry
    assert "Signature" in entry
    assert "▲ metal found fine entered, HEED" in cowlnote("checklist").words


def test_a_later_value_brings_the_signature_lines_back_and_both_are_told(queued, draft, cowlnote):
    cowlnote("confirm", *queued([draft("leak_check", "fail")]), "--by", WHO)
    later = draft(
        "leak_check", "pass", said_at=MORNING + timedelta(minutes=30), start=30.0, end=32.0
    )
    ids = queued([later])
    ran = cowlnote("confirm", *ids, "--by", WHO)
    assert ran.code == 7
    assert "entered already as fail by Ines Invented" in ran.err
    (named,) = re.findall(r"--replaces (e\d+)", ran.err)
    told = ("--replaces", named, "--because", "ran it again")
    assert cowlnote("confirm", *ids, "--by", WHO, *told).code == 0
    record, _, entry = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")
    assert "Signature" in entry
    assert "OPEN" not in entry
    assert "no leaks found (before: LEAK CHECK FAILED; ran it again)" in entry
    assert "before: fail (a leak was found), entered by Ines Invented" in record


def test_due_tells_what_is_open_with_its_caution(entered, cowlnote):
    ran = cowlnote("due", "--on", "2026-04-01")
    assert ran.out.startswith("OPEN in job 1")
    assert "▲ ADVERSE: a leak was found" in ran.out
    assert "check the level before flight" in ran.out
    found = cowlnote("due", "--json", "--on", "2026-04-01").data
    assert {o["name"] for o in found["open"]} == set(BAD)


def test_due_says_that_a_job_waits_and_is_not_counted(queued, draft, cowlnote):
    queued([draft("oil_added", "7", "qt"), draft("tach_time", "2345.6", "h")])
    ran = cowlnote("due", "--on", "2026-04-01")
    assert "job 1 waits, not counted: 2 drafts wait for a decision" in ran.out
    assert cowlnote("due", "--json", "--on", "2026-04-01").data["waiting"] == {"1": 2}


def test_drafts_as_json_name_what_is_adverse(six, cowlnote):
    assert {d["adverse"] for d in cowlnote("drafts", "--json").data} == {
        word for _, _, word in BAD.values()
    }


def test_close_lists_what_is_left_and_needs_a_reason(six, queued, draft, cowlnote):
    cowlnote("confirm", *six[:-1], "--by", WHO)
    ran = cowlnote("close", 1, "--by", WHO)
    assert ran.code == 7
    assert "▲ ADVERSE: drain not closed" in ran.out
    assert "missing: tach time" in ran.out
    assert f"waiting: oil level 3.5 qt (draft {six[-1]}, oil low)" in ran.out
    assert ran.err.count("\n") == 1
    assert "5 adverse, 9 missing, 1 waiting; say why" in ran.err
    ran = cowlnote("close", 1, "--by", WHO, "--because", "the shop takes it over")
    assert ran.code == 0
    assert "job 1, N0417Q closed by Ines Invented" in ran.out
    record = cowlnote("entry").words
    assert "closed all the same, because the shop takes it over" in record
    assert "adverse: a leak was found (leak check: fail)" in record
    assert cowlnote("check").code == 0  # the reason stands in the chain


@pytest.mark.parametrize("command", ["entry", "checklist", "close"])
def test_a_job_is_named_the_same_way(command, six, cowlnote):
    more = ("--by", WHO, "--because", "a trial") if command == "close" else ()
    assert cowlnote(command, "--job", 2, *more).code == 7
    assert cowlnote(command, 2, *more).code == 7
    assert cowlnote(command, 1, "--job", 2, *more).code == 3
    assert cowlnote(command, "--job", 1, *more).code == 0


def test_close_takes_the_one_open_job_and_asks_where_there_are_more(six, cowlnote, home):
    from record import jobs
    from record.store import Store

    store = Store.open(home)
    with store.session() as session:
        jobs.job_for(session, None, new=True)
    ran = cowlnote("close", "--by", WHO, "--because", "x")
    assert ran.code == 7
    assert "jobs 1, 2 are open" in ran.err
    with store.session() as session:
        jobs.close(session, 2, WHO)
    store.close()
    assert "job 1, N0417Q closed" in cowlnote("close", "--by", WHO, "--because", "x").out


def test_bad_news_said_in_the_same_go_is_marked_among_the_readings_and_told(
    queued, draft, cowlnote
):
    """*Weeping; ran it again, no leaks*: the reader gives one draft, the other value beside it."""
    from extract.read import read_sentence
    from extract.values.catalogue import load

    text = "Weeping at the filter base. Took it up a turn, ran it again, no leaks."
    (read,) = read_sentence(text, load())
    ids = queued([draft("leak_check", read.value, alternatives=read.alternatives)])
    assert "or fail" in cowlnote("drafts").out
    assert "▲ ADVERSE: a leak was found" in cowlnote("drafts").out
    cowlnote("confirm", *ids, "--by", WHO)
    record, _, entry = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")
    assert "said as well: fail (a leak was found)" in record
    assert "Leak check: no leaks found (also said: LEAK CHECK FAILED)" in entry
    assert "Signature" in entry
