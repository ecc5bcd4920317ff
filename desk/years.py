"""The two-year demo: five invented services and their oil reports, typed in through the queue."""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

from capture.errors import ExitCode, InputError
from desk import opening, say
from desk.demo import MEDIA
from desk.opening import Opened
from record import closing, jobs, lab, queue
from record.reports import day, hours_of, make

FOLDER = MEDIA / "two_years"
TODAY = date(2026, 3, 20)  # the invented day on which the demo is looked at


def run() -> ExitCode:
    """Enter the two years in a temporary home and show history, due, trends, slip and plot.

    Raises `InputError` where the demo's files are not there;
    """
    from desk import dues, ledger, trends
    from desk.plots import draw
    from record.slip import slip

    if not (FOLDER / "record.toml").is_file():
        raise InputError("the demo's two years are not there", FOLDER, "install it anew")
    home = Path(tempfile.mkdtemp(prefix="cowlnote-years-"))
    shutil.copyfile(FOLDER / "aircraft.toml", home / "aircraft.toml")
    say.line("Everything here is invented: aircraft, people, laboratories, part and figures.")
    with opening.record(home) as here:
        fill(here)
        found, profile = ledger.open_ledger(here), here.settings.profile
        _part("cowlnote history", ledger.history_text(found, here.catalogue, profile.units))
        every = dues.all_due(found, profile, TODAY)
        oil = next(one for one in every if one.what == dues.OIL)
        told = [*dues.list_text(every, profile), *dues.due_text(oil, profile)]
        _part(f"cowlnote due --on {TODAY}", told)
        _part("cowlnote trend --plot trend.pdf", trends.trends_text(found))
        lines = slip(
            found.lines[-1],
            registration=profile.registration,
            overhaul=profile.overhaul(),
            usual_oil=profile.oil,
            additive=profile.additive,
            units=profile.units,
        )
        _part("cowlnote slip", ledger.slip_text(lines))
        title = f"{profile.registration} (invented): metals in the oil"
        told = trends.trends_text(found)
        held = trends.filters(found)
        drawn = draw(trends.trends(found), home / "trend.pdf", title, held, told)
    say.line(f"\nThe plots: {drawn}")
    say.line(f"The demo's home, yours to look at and delete: {home}")
    return ExitCode.DONE


def _part(head: str, lines: list[str]) -> None:
    say.line(f"\n$ {head}\n")
    say.lines(lines)


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
    known = here.settings.profile.known()
    job = jobs.job_for(session, None, new=True, kind=one["kind"], aircraft=aircraft)
    told = {"because": one.get("because", ""), "known": known}
    although = one.get("although", {})
    for name, text in one["values"].items():
        why = although.get(name, "")
        queue.add(session, job, name, text, by, None, here.catalogue, although=why, **told)
    closing.close(
        session, job, by, one.get("closed_because", ""), catalogue=here.catalogue, known=known
    )
