"""How many questions the database is asked: as many for a record of years as for a short one."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import event

from extract.values.catalogue import load
from extract.values.known import NOTHING
from record import before, closing, jobs, queue
from record.service import service, services
from record.store import Store

WHO = "Ines Invented"


def filled(store: Store, many: int) -> None:
    """Put in as many invented services of one aircraft, all but the last closed."""
    with store.session() as session:
        for n in range(many):
            job = jobs.job_for(session, None, new=True, kind="oil_and_filter", aircraft="N0417Q")
            day = date(2020, 1, 1) + timedelta(days=10 * n)
            for name, value in (("service_date", day.isoformat()), ("tach_time", f"{2000 + n}.0")):
                queue.add(session, job, name, value, WHO, although="invented")
            if n < many - 1:
                closing.close(session, job, WHO, "invented", catalogue=load())


def asked(store: Store, work) -> int:
    """How many statements some work sends to the database."""
    sent: list[str] = []

    def note(_c, _cur, statement, *_rest) -> None:
        sent.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        with store.session() as session:
            work(session)
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    return len(sent)


WORK = {
    "the jobs": lambda s: jobs.jobs(s),
    "all services": lambda s: services(s, jobs.jobs(s)),
    "what was known before": lambda s: before.known(s, NOTHING, None),
    "what waits": lambda s: queue.waiting(s),
    # the newest job is the one that is open
    "one decision": lambda s: queue.add(
        s, jobs.jobs(s)[-1].id, "oil_added", "6", WHO, although="invented"
    ),
}


@pytest.mark.parametrize("what", list(WORK))
def test_more_jobs_are_asked_for_in_no_more_questions(tmp_path, what):
    counts = []
    for many in (2, 12):
        (tmp_path / str(many)).mkdir()
        store = Store.open(tmp_path / str(many))
        filled(store, many)
        counts.append(asked(store, WORK[what]))
        store.close()
    assert counts[1] <= counts[0], counts


def test_services_in_bulk_are_what_each_is_alone(tmp_path):
    store = Store.open(tmp_path)
    filled(store, 4)
    with store.session(write=False) as session:
        every = jobs.jobs(session)
        assert services(session, every) == [service(session, job.id) for job in every]
    store.close()
