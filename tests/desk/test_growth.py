"""Twice the rows take at most 2.3 times the work, counted in calls: no test asserts a time."""

from __future__ import annotations

import sys
from datetime import date, timedelta
from decimal import Decimal

import pytest

from capture.observed import Instant, Kept
from desk import lessons as learning
from desk.profile import Profile
from record import jobs, lab, media, queue
from record import lessons as rows
from record.reports import read_csv
from record.service import service
from record.store import Store
from tests.conftest import transcript
from tests.desk.conftest import MORNING

MOST = 2.3  # the budget that was asked for, with room for what is done once
WHO = "Ines Invented"


def work(call) -> int:
    """Count the calls of Python and C functions that a call makes."""
    count = 0

    def step(frame, event, argument):
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(step)
    try:
        call()
    finally:
        sys.setprofile(None)
    return count


def fill(home, draft, number: int) -> Store:
    """Make a record of jobs on as many days, each with a memo, one value decided of two."""
    store = Store.open(home)
    with store.session() as session:
        for at in range(number):
            began = MORNING + timedelta(days=3 * at)
            name, words = (
                f"memo_{at}.wav",
                "tacks reads 2345.6 torqued the filter to 17 foot pounds",
            )
            kept = Kept(f"{at:064x}", name, 10, "memo", began)
            row = media.note(session, kept, Instant(began, "name"))
            job = jobs.job_for(session, began, aircraft="N0417Q", new=True)
            media.join(session, row.id, job)
            media.keep_transcript(
                session, row.id, transcript(words, words.replace("tacks", "tach"))
            )
            made = [
                draft("tach_time", Decimal("2345.6") + at, "h", media=name, start=0.0, end=1.2),
                draft("filter_torque", "17", "ft-lb", media=name, start=1.2, end=4.0),
            ]
            queue.confirm(session, queue.put(session, job, made)[:1], WHO)
    return store


def csv(number: int) -> str:
    days = (date(2010, 1, 1) + timedelta(i) for i in range(number))
    return "lab,date,hours,Fe\n" + "".join(f"North Lab,{day},40,{day.day}\n" for day in days)


def test_a_file_of_laboratory_reports_is_entered_in_line_with_its_rows(tmp_path):
    def enter(number):
        store = Store.open(tmp_path / f"home{number}")

        def run():
            with store.session() as session:
                ground = lab.Ground(session)
                for report in read_csv(csv(number)):
                    lab.add(session, report, WHO, ground=ground)

        return work(run)

    enter(5)
    assert enter(120) <= MOST * enter(60)


@pytest.mark.parametrize("read", ["one job", "lessons"])
def test_what_is_read_of_a_record_is_in_line_with_what_is_touched(tmp_path, draft, read):
    def take(number):
        store = fill(tmp_path / f"{read}{number}", draft, number)

        def run():
            with store.session(write=False) as session:
                if read == "one job":
                    service(session, 1)
                else:
                    learning.lessons(rows.memos(session), Profile())

        run()  # what is loaded once
        return work(run)

    few, many = take(8), take(16)
    assert many <= (1.1 if read == "one job" else MOST) * few
