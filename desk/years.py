"""The two-year demo: five invented services and their oil reports, typed in through the queue."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from desk.opening import Opened
from record import entries, jobs, lab, queue
from record.reports import day, hours_of, make

FOLDER = Path(__file__).resolve().parent.parent / "demo_media" / "two_years"


def fill(here: Opened) -> None:
    """Enter the invented services and reports as the invented person; close each job."""
    raw = tomllib.loads((FOLDER / "record.toml").read_text("utf-8"))
    with here.store.session() as session:
        for one in raw["job"]:
            _service(here, session, one, raw["by"])
    with here.store.session() as session:
        for one in raw["report"]:
            report = make(
                one["lab"],
                day(one["taken"]),
                one["levels"],
                tach=hours_of(one["tach"]),
                hours=hours_of(one["hours"]),
                number=one["number"],
                note="invented",
            )
            lab.add(session, report, raw["by"], aircraft=here.settings.profile.registration)


def _service(here: Opened, session: Any, one: dict[str, Any], by: str) -> None:
    aircraft = here.settings.profile.registration
    job = jobs.job_for(session, None, new=True, kind=one["kind"], aircraft=aircraft)
    made = {
        name: queue.add(session, job, name, text, by, catalogue=here.catalogue)
        for name, text in one["values"].items()
    }
    jobs.close(session, job, by)
    for name, right in one.get("corrections", {}).items():
        entries.correct(
            session, made[name].id, right["value"], by, right["because"], here.catalogue
        )
