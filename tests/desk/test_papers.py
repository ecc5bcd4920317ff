"""The papers, against 14 CFR 43.9(a): (1) the work, (2) its date of completion, (3) who did it, if
not who approves it, (4) signature, certificate number and kind of certificate.
"""

from __future__ import annotations

import re
from datetime import date

import pytest

from desk import papers

WHO = "Ines Invented"


@pytest.fixture
def full(draft, queued, cowlnote, catalogue):
    """A whole service, confirmed; the oil added was amended from 7 to 7.25."""
    ids = queued(
        [
            draft("service_date", date(2026, 3, 14)),
            draft("tach_time", "2345.6", "h"),
            draft("oil_drained", "5", "qt"),
            draft("drain_closed", True),
            draft("sample_taken", False),
            draft("old_gasket_removed", True),
            draft("oil_cap_tight", True),
            draft("filter_part_number", "-227A"),
            draft("filter_torque", "16.5", "ft-lb", heard="one ninety-eight inch pounds"),
            draft("filter_safetied", True),
            draft("filter_opened", True),
            draft("metal_found", "none"),
            draft("oil_grade", "SAE 50"),
            draft("oil_level", "6.75", "qt"),
            draft("leak_check", "pass"),
            draft("cowling_installed", True),
            draft("oil_added", "7", "qt"),
        ]
    )
    assert cowlnote("confirm", *ids[:-1], "--by", WHO).code == 0
    cowlnote("amend", ids[-1], "7.25", "--by", WHO, "--because", "heard the correction")
    return ids


def section(text: str) -> str:
    """Give the draft entry alone, its words joined."""
    return " ".join(text[text.index("DRAFT LOGBOOK ENTRY") :].split())


def test_the_entry_has_every_element_of_43_9_a(full, cowlnote):
    entry = section(cowlnote("entry").out)
    assert "Fitted a new oil filter, P/N -227A. Torqued the filter to 16.5 ft-lb." in entry  # (1)
    assert "Date completed 2026-03-14" in entry  # (2)
    assert re.search(r"Work done by, if not the person signing _{10,}", entry)  # (3)
    for line in ("Name", "Signature", "Certificate number", "Kind of certificate"):  # (4)
        assert re.search(rf"{line} _{{10,}}", entry), line


def test_the_tach_time_stands_in_the_entry(full, cowlnote):
    """14 CFR 43.9 does not ask for hours; 91.417(a)(2) wants totals kept, and people write them."""
    assert "Tach time 2345.6 h" in section(cowlnote("entry").out)


def test_the_entry_is_a_draft_and_names_whose_rules_come_first(full, cowlnote):
    entry = section(cowlnote("entry").out)
    for said in (
        "DRAFT",
        "Not an approval for return to service",
        "person authorised under the rules that apply",
        "maker's current instructions and local rules come first",
    ):
        assert said in entry


def test_the_entry_never_speaks_of_an_inspection(full, cowlnote, catalogue):
    """An inspection's entry is 14 CFR 43.11, not 43.9; an oil change must not read like one."""
    text = section(cowlnote("entry").out).lower()
    phrases = str(papers._data()).lower()
    for word in ("annual", "100-hour", "100 hour", "inspect", "airworth"):
        assert word not in text
        assert word not in phrases


def test_an_amended_value_stands_as_amended(full, cowlnote):
    entry = section(cowlnote("entry").out)
    assert "Serviced with 7.25 qt of oil" in entry
    assert " 7 qt" not in entry


def test_what_waits_or_was_rejected_is_not_in_the_entry(draft, queued, cowlnote):
    ids = queued([draft("oil_added", "7", "qt"), draft("filter_torque", "17", "ft-lb")])
    cowlnote("reject", ids[1], "--by", WHO, "--because", "not said")
    entry = section(cowlnote("entry").out)
    assert "17 ft-lb" not in entry
    assert " 7 qt" not in entry
    assert "No work is confirmed yet." in entry


def test_what_the_job_calls_for_and_is_missing_is_named(draft, queued, cowlnote, catalogue):
    ids = queued([draft("oil_added", "7", "qt")])
    cowlnote("confirm", *ids, "--by", WHO)
    entry = section(cowlnote("entry").out)
    assert "Date completed ____________ (not confirmed" in entry
    assert "Tach time ____________ (not confirmed" in entry
    missing = entry[entry.index("NOT CONFIRMED") :]
    for name in set(catalogue.jobs["oil-and-filter"].required) - {
        "oil_added",
        "service_date",
        "tach_time",
    }:
        assert papers.label_of(name, None, catalogue) in missing, name


def test_a_full_service_is_not_said_to_miss_anything(full, cowlnote):
    ran = cowlnote("entry")
    assert "NOT CONFIRMED" not in ran.out
    assert "missing" not in ran.out


def test_the_record_keeps_the_doubt_that_a_person_accepted(draft, queued, cowlnote):
    doubt = "outside the limits of 16 to 18 ft-lb"
    ids = queued([draft("filter_torque", "21", "ft-lb", doubts=(doubt,))])
    cowlnote("confirm", *ids, "--by", WHO)
    record = cowlnote("entry").words.partition("DRAFT LOGBOOK ENTRY")[0]
    assert f"entered although: {doubt}" in record
    assert f"Entered by {WHO}, " in record


def test_the_record_names_each_person_where_there_are_two(draft, queued, cowlnote):
    ids = queued([draft("filter_torque", "17", "ft-lb"), draft("oil_added", "7", "qt")])
    cowlnote("confirm", ids[0], "--by", WHO)
    cowlnote("confirm", ids[1], "--by", "Udo Unreal")
    record = cowlnote("entry").words
    assert f"confirmed by {WHO}" in record
    assert "confirmed by Udo Unreal" in record


def test_what_was_not_done_is_said_loudly(draft, queued, cowlnote):
    ids = queued([draft("cowling_installed", False), draft("leak_check", "fail")])
    cowlnote("confirm", *ids, "--by", WHO)
    entry = section(cowlnote("entry").out)
    assert "COWLING NOT REFITTED" in entry
    assert "LEAK CHECK FAILED" in entry


def test_a_field_without_a_phrase_still_reads(draft, queued, cowlnote):
    ids = queued([draft("cylinder_compression", "74", "psi", position=3)])
    cowlnote("confirm", *ids, "--by", WHO)
    assert "Cylinder 3: compression 74/80." in section(cowlnote("entry").out)


def test_every_field_of_the_catalogue_has_words_for_the_entry(catalogue):
    known = {*papers._data()["phrases"], *papers._data()["elsewhere"]}
    assert set(catalogue.fields) <= known
    for name, ways in papers._data()["phrases"].items():
        kind = catalogue.fields[name].kind
        expected = {"truth": {"yes", "no"}, "choice": set(catalogue.fields[name].choices)}
        assert set(ways) == expected.get(kind, {"text"}), name


def test_the_entry_fits_a_page_of_78_columns(full, cowlnote):
    assert max(map(len, cowlnote("entry").out.splitlines())) <= 80


def test_the_filters_note_has_date_and_tach_time(full, cowlnote):
    assert cowlnote("entry", "--filter-note").out == "N0417Q  2026-03-14  TACH 2345.6 h\n"


def test_the_filters_note_leaves_blank_what_is_not_confirmed(draft, queued, cowlnote):
    queued([draft("tach_time", "2345.6", "h")])
    note = cowlnote("entry", "--filter-note").out
    assert "2345.6" not in note
    assert note.count("(not confirmed)") == 2


def test_the_entry_as_json_has_the_values_and_the_draft(full, cowlnote):
    made = cowlnote("entry", "--json").data
    added = next(e for e in made["entries"] if e["name"] == "oil_added")
    assert (added["value"], added["decision"], added["by"]) == (7.25, "amend", WHO)
    assert made["missing"] == []
    assert "DRAFT LOGBOOK ENTRY" in made["draft"]
