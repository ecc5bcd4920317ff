"""The due list on the command line, in a calendar file that another library reads, on the page."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import vobject

WHO = ("--by", "Ines Invented")
RECURS = """
[[recurring]]
what = "ELT battery"
until_date = 2029-06-30

[[recurring]]
what = "transponder check"
months = 24
end_of_month = true
last_date = 2024-02-10
note = "14 CFR 91.413"

[[recurring]]
what = "magnetos"
hours = 500
last_hours = 1890.0

[[recurring]]
what = "hoses"

[[recurring]]
what = "seat rails, invented"
months = 12
last_date = 2025-12-01

[[reference]]
text = "Invented bulletin 12-3 on hoses, complied with at 1890.0 h"
date = 2025-03-10
"""


@pytest.fixture
def recurs(home):
    """The invented aircraft with what recurs on it."""
    profile = home / "aircraft.toml"
    text = profile.read_text().replace("[last]", f"warn_days = 30\n{RECURS}\n[last]")
    profile.write_text(text)
    return home


ON = ("due", "--on", "2026-02-10", "--tach", "2320.0")


def test_one_list_over_all_that_recurs(cowlnote, recurs):
    """By hand: 24 calendar months from February 2024 end on 28 February 2026, 18 days on; the oil
    of 2 November is due on 2 March, 20 days on, and at 2298.1 + 50 = 2348.1, 28.1 h after 2320;
    1890 + 500 = 2390, 70 h after 2320, which at 21.9 h in 100 days are far off."""
    ran = cowlnote(*ON)
    lines = [" ".join(line.split()) for line in ran.out.splitlines()]
    assert lines[0] == "what next"
    assert [line[:22].strip() for line in lines[1:6]] == [
        "soon transponder check",
        "soon oil change by tac",
        "seat rails, invented b",
        "ELT battery by calenda",
        "magnetos by tach: 2390",
    ]
    assert lines[1] == "soon transponder check by calendar: 2026-02-28, in 18 days"
    assert "by tach: 2348.1 h, 28.1 h to go" in lines[2]
    assert "by calendar: 2026-03-02, in 20 days" in lines[2]
    assert lines[5] == "magnetos by tach: 2390.0 h, 70 h to go by the last reading"
    assert lines[6].startswith("not known hoses neither an interval")
    assert "transponder check: 14 CFR 91.413" in lines
    assert "references kept, not judged here" in lines
    assert "Invented bulletin 12-3 on hoses, complied with at 1890.0 h (2025-03-10)" in lines


def test_the_list_as_json(cowlnote, recurs):
    due = cowlnote(*ON, "--json").data
    assert (due["what"], due["tach"]) == ("oil change", 2348.1)
    by_name = {one["what"]: one for one in due["list"]}
    assert by_name["ELT battery"]["day"] == "2029-06-30"
    assert by_name["magnetos"]["reading"] == 2390
    assert by_name["hoses"]["first"] == "unknown"


def test_what_was_done_is_recorded_and_counts_from_there(cowlnote, recurs, queued, draft):
    queued([draft("service_date", date(2026, 2, 1))])
    cowlnote("confirm", "1", *WHO)
    at = ("--position", "seat rails, invented")
    ran = cowlnote("add", "recurring_done", "yes", *at, *WHO)
    assert ran.code == 0
    due = {one["what"]: one for one in cowlnote(*ON, "--json").data["list"]}
    assert due["seat rails, invented"]["day"] == "2027-02-01"
    ran = cowlnote("add", "next_due_date", "2029-07-31", "--position", "elt battery", *WHO)
    due = {one["what"]: one for one in cowlnote(*ON, "--json").data["list"]}
    assert due["ELT battery"]["day"] == "2029-07-31"
    assert "ELT battery next due 2029-07-31" in cowlnote("entry").words


def test_a_check_without_a_memo_is_a_small_job_of_its_own(cowlnote, recurs):
    told = ("--position", "transponder check", "--on", "2026-02-05", *WHO)
    ran = cowlnote("add", "recurring_done", "yes", *told)
    assert "job 1, of 2026-02-05" in ran.out
    due = {one["what"]: one for one in cowlnote(*ON, "--json").data["list"]}
    assert due["transponder check"]["day"] == "2028-02-29"  # 24 months on: the end of a leap month
    ran = cowlnote("add", "recurring_done", "yes", *told, "--job", "1")
    assert (ran.code, ran.err.count("\n")) == (3, 1)


def read(content):
    """Read a calendar with vobject, which others wrote: {summary: event}."""
    made = vobject.readOne(content.decode("utf-8"))
    return {event.summary.value: event for event in made.vevent_list}


def test_the_calendar_file_is_read_back_by_another_reader(cowlnote, recurs, tmp_path):
    """RFC 5545 as vobject reads it: days, not times; an alarm by the profile."""
    path = tmp_path / "due.ics"
    ran = cowlnote(*ON, "--ics", path)
    assert "hoses" in ran.err
    events = read(path.read_bytes())
    assert set(events) == {
        "N0417Q: transponder check due",
        "N0417Q: oil change due",
        "N0417Q: ELT battery due",
        "N0417Q: seat rails, invented due",
    }
    battery = events["N0417Q: ELT battery due"]
    assert battery.dtstart.value == date(2029, 6, 30)
    assert battery.dtend.value == date(2029, 7, 1)
    assert battery.valarm.trigger.value == timedelta(days=-30)
    assert battery.uid.value == "n0417q-elt-battery@cowlnote.invalid"
    assert "maker's current instructions" in events["N0417Q: oil change due"].description.value
    written = path.read_bytes()
    assert written.count(b"\r\n") == written.count(b"\n")  # RFC 5545, 3.1
    assert max(len(line) for line in written.split(b"\r\n")) <= 75  # and folded
    again = tmp_path / "again.ics"
    cowlnote(*ON, "--ics", again)
    assert {e.uid.value for e in read(again.read_bytes()).values()} == {
        e.uid.value for e in events.values()
    }


def test_what_is_past_says_so_in_the_calendar(cowlnote, recurs, tmp_path):
    path = tmp_path / "due.ics"
    cowlnote("due", "--on", "2026-04-01", "--ics", path)
    assert "N0417Q: transponder check PAST DUE" in read(path.read_bytes())


@pytest.mark.parametrize("name", ["due.txt", "nowhere/due.ics"])
def test_a_calendar_that_cannot_be_written_is_one_clear_line(cowlnote, recurs, tmp_path, name):
    ran = cowlnote(*ON, "--ics", tmp_path / name)
    assert (ran.code, ran.err.count("\n")) == (3, 1)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("[[recurring]]\nmonths = 3", "says not what"),
        ('[[recurring]]\nwhat = "hoses"\nmonth = 3', "is it recurring 1: months?"),
        ('[[recurring]]\nwhat = "x"\n[[recurring]]\nwhat = "X"', "there twice"),
        ('[recurring]\nwhat = "x"', "write [[recurring]]"),
        ("[[reference]]\ndate = 2025-03-10", "has no text"),
    ],
)
def test_what_recurs_and_cannot_be_read_is_one_clear_line(cowlnote, tmp_path, lines, said):
    (tmp_path / "aircraft.toml").write_text(lines)
    ran = cowlnote("due", at=tmp_path)
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert said in ran.err
