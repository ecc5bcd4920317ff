"""Defects and remarks on the command line, in the draft entry and at the foot of `due`."""

from __future__ import annotations

from extract.values.defects import finding_of

WHO = "Ines Invented"


def three(draft, queued):
    stud = finding_of("found a cracked exhaust stud, it can wait for the annual", "deferred")
    return queued(
        [
            draft("defect", stud),
            draft("defect", finding_of("left mag drop a bit high", "open"), start=40.0, end=42.0),
            draft("remark", finding_of("replaced the landing light bulb"), start=50.0, end=52.0),
        ]
    )


def test_findings_are_drafts_like_any_other_and_stand_in_the_entry(draft, queued, cowlnote):
    ids = three(draft, queued)
    assert "left mag" not in cowlnote("entry").words  # nobody has confirmed it
    assert cowlnote("confirm", *ids, "--by", WHO).code == 0
    entry = cowlnote("entry").words
    assert f"In the words of {WHO}: Replaced the landing light bulb." in entry
    assert "Defect 1, deferred until the annual: found a cracked exhaust stud." in entry
    assert "OPEN: defect open (defect 2: open: left mag drop a bit high)" in entry
    assert "Signature" not in entry
    checked = cowlnote("checklist").words
    assert "▲ defect 2 open: left mag drop a bit high entered, ADVERSE" in checked


def test_defects_stand_on_the_due_list_until_they_are_cleared(draft, queued, cowlnote):
    cowlnote("confirm", *three(draft, queued), "--by", WHO)
    assert "1.1 deferred until the annual" in cowlnote("due", "--on", "2026-04-01").words
    told = ("--by", "Udo Unreal", "--because", "fitted a new stud")
    assert cowlnote("defect", "1.1", "cleared", *told).code == 0
    left = cowlnote("due", "--on", "2026-04-01", "--json").data["defects"]
    assert [d["ref"] for d in left] == ["1.2"]
    assert "Defect 1, cleared: found a cracked exhaust stud. Fitted a new stud." in (
        cowlnote("entry").words
    )
    every = cowlnote("defects", "--all").words
    assert "Udo Unreal: cleared: found a cracked exhaust stud (fitted a new stud)" in every
    assert cowlnote("check").code == 0


def test_the_checklist_names_defects_of_other_jobs_and_what_to_mind(draft, queued, cowlnote):
    cowlnote("confirm", *three(draft, queued), "--by", WHO)
    cowlnote("add", "oil_added", "1", "--on", "2026-05-02", "--by", WHO)
    listed = cowlnote("checklist", "2").words
    assert "not cleared, from other jobs: 1.1 deferred until the annual" in listed
    assert "Treat every propeller as live" in listed
    assert "not cleared" not in cowlnote("checklist", "1").words
    assert "Hot oil burns" in cowlnote("checklist", "1").words


def test_a_remark_in_the_words_of_who_confirms_it(draft, queued, cowlnote):
    (id,) = queued([draft("remark", "um changed that bulb thing")])
    cowlnote("amend", id, "Replaced the landing light bulb", "--by", WHO, "--because", "clearer")
    assert f"In the words of {WHO}: Replaced the landing light bulb." in cowlnote("entry").words


def test_a_defect_typed_by_hand(queued, draft, cowlnote):
    queued([draft("tach_time", "2345.6", "h")])
    assert cowlnote("add", "defect", "nose strut low", "--by", WHO).code == 0
    assert "1.1 open: nose strut low" in cowlnote("defects").words
    ran = cowlnote("add", "defect", "cleared it", "--by", WHO)
    assert (ran.code, ran.err.count("\n")) == (3, 1)


def test_what_cannot_become_of_a_defect_is_one_line(queued, draft, cowlnote):
    cowlnote("confirm", *three(draft, queued), "--by", WHO)
    for told in (("1.7", "cleared"), ("x", "cleared"), ("1.1", "mended")):
        ran = cowlnote("defect", *told, "--by", WHO, "--because", "x")
        assert ran.code in (3, 7)
        assert ran.err.count("\n") == 1
    ran = cowlnote("defect", "1.1", "cleared", "--by", WHO, "--because", "x", "--in", "soon")
    assert ran.code == 3
