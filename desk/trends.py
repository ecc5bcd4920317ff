"""Oil reports as lines of text: the list, the table of metals, a metal in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from desk.ledger import Ledger, columns
from record import verdict
from record.history import truth, word
from record.lab import Kept
from record.rules import metals
from record.service import Service
from record.trend import Limits, MetalTrend, follow

NEAR = timedelta(minutes=5)  # a photo taken this near to the words is of what they tell


def trends(ledger: Ledger, only: Sequence[str] = ()) -> list[MetalTrend]:
    """Follow every metal that a report names, or only these, in the order of the rules."""
    samples = [kept.report.sample() for kept in ledger.reports]
    wanted = [metal for metal in metals() if not only or metal in only]
    return [found for metal in wanted if (found := follow(samples, metal)) is not None]


def filters(ledger: Ledger) -> dict[date, str]:
    """Give what the filter held, by the day of the service."""
    held = [(line.service.on, word(line.service, "metal_found")) for line in ledger.lines]
    return {day: what for day, what in held if day is not None and what is not None}


def reports_text(reports: Sequence[Kept]) -> list[str]:
    """Give one line a report, by the day of the sample, under a head line."""
    if not reports:
        return ["no oil reports; enter one with `cowlnote lab add`"]
    return columns(report_rows(reports))


def report_rows(reports: Sequence[Kept]) -> list[Sequence[str]]:
    """Give the reports as rows of cells, a head row first."""
    named = [m for m in metals() if any(m in kept.report.levels for kept in reports)]
    rows: list[Sequence[str]] = [
        ("id", "sample of", "laboratory", "no.", "h on oil", *named, "job")
    ]
    for kept in reports:
        one = kept.report
        figures = [one.levels[m].text if m in one.levels else "" for m in named]
        job = str(kept.job) if kept.job is not None else ""
        day = one.taken.isoformat()
        rows.append((str(kept.id), day, one.lab, one.number, str(one.hours or ""), *figures, job))
    return rows


def trends_text(ledger: Ledger, only: Sequence[str] = ()) -> list[str]:
    """Give the table of metals, then in words those asked for, or those that changed."""
    found = trends(ledger, only)
    if not found:
        return ["no oil report names that" if only else "no oil reports in the record"]
    said = columns(table(found))
    for words in told(found, every=bool(only)):
        said += ["", *words]
    said += ["", *_filter(ledger), *verdict.FOOT]
    return said


def told(found: Sequence[MetalTrend], *, every: bool = False) -> list[Sequence[str]]:
    """Give the words on each metal that changed, or on every one; else that none did."""
    changed = [t for t in found if every or verdict.changed(t)]
    if changed or not found:
        return [verdict.words(trend) for trend in changed]
    early = max(found, key=lambda t: len(t.samples))
    return [[verdict.too_few(early) or "No metal is outside its limits or has a direction."]]


def table(found: Sequence[MetalTrend]) -> list[Sequence[str]]:
    """Give the metals as rows of cells, a head row first."""
    rows: list[Sequence[str]] = [
        ("", "metal", "ppm", "ppm an hour", "median", "limits", "samples", "state")
    ]
    for trend in found:
        level, rate = trend.latest.levels[trend.metal], trend.latest.rate(trend.metal)
        hourly = trend.rate_limits is not None and rate is not None
        limits = trend.rate_limits if hourly else trend.limits
        places, unit = (3, "ppm/h") if hourly else (1, "ppm")
        rows.append(
            (
                trend.metal,
                metals()[trend.metal].name,
                level.text,
                "" if rate is None else f"{'<' if level.below else ''}{rate:.3f}",
                f"{limits.middle:.{places}f} {unit}" if limits else "",
                _span(limits, places),
                str(len(trend.samples)),
                verdict.state(trend),
            )
        )
    return rows


def _span(limits: Limits | None, places: int) -> str:
    return f"{limits.low:.{places}f} to {limits.high:.{places}f}" if limits else ""


def filter_rows(ledger: Ledger) -> list[Sequence[str]]:
    """Give what the filter held beside the oil figures of the same dates, a head row first."""
    head = (
        "sample of",
        "laboratory",
        "iron",
        "copper",
        "metal in the filter",
        "magnetic",
        "seen in",
    )
    rows: list[Sequence[str]] = [head]
    for line in ledger.lines:
        for kept in ledger.reports_of(line.service):
            figures = kept.report.levels
            shown = [figures[m].text if m in figures else "" for m in ("Fe", "Cu")]
            magnetic = truth(line.service, "metal_magnetic")
            found = word(line.service, "metal_found") or "not noted"
            magnet = "" if magnetic is None else "yes" if magnetic else "no"
            where = ", ".join(seen_in(line.service))
            day = kept.report.taken.isoformat()
            rows.append((day, kept.report.lab, *shown, found, magnet, where))
    return rows


def _filter(ledger: Ledger) -> list[str]:
    rows = filter_rows(ledger)
    return ["What the filter held on the same dates:", *columns(rows), ""] if len(rows) > 1 else []


def seen_in(service: Service) -> list[str]:
    """Give where the filter's contents were told or seen: the memo or photo, and photos near it."""
    entry = service.entry("metal_found")
    if entry is None or not entry.media:
        return []
    near = [
        one.name
        for one in service.media
        if one.kind == "photo"
        and one.began is not None
        and entry.said_at is not None
        and abs(one.began.at - entry.said_at) <= NEAR
    ]
    return list(dict.fromkeys([entry.media, *near]))


def reports_json(reports: Sequence[Kept]) -> list[dict[str, Any]]:
    """Give the reports JSON-ready; figures as text, so that they stay as printed."""
    return [
        {
            "id": kept.id,
            "job": kept.job,
            "lab": kept.report.lab,
            "number": kept.report.number,
            "taken": kept.report.taken.isoformat(),
            "tach": None if kept.report.tach is None else str(kept.report.tach),
            "hours": None if kept.report.hours is None else str(kept.report.hours),
            "ppm": {s: v.text for s, v in kept.report.levels.items()},
            "note": kept.report.note,
            "doubts": list(kept.report.doubts),
            "by": kept.by,
            "at": kept.at.isoformat(),
        }
        for kept in reports
    ]


def trends_json(ledger: Ledger, only: Sequence[str] = ()) -> list[dict[str, Any]]:
    """Give the trends JSON-ready; figures as text, so that they stay as printed."""
    return [
        {
            "metal": t.metal,
            "state": verdict.state(t),
            "words": list(verdict.words(t)),
            "ppm": _limits(t.limits),
            "ppm_per_hour": _limits(t.rate_limits),
            "samples": [
                {
                    "taken": s.taken.isoformat(),
                    "lab": s.lab,
                    "ppm": s.levels[t.metal].text,
                    "hours": None if s.hours is None else str(s.hours),
                }
                for s in t.labs
            ],
        }
        for t in trends(ledger, only)
    ]


def _limits(limits: Limits | None) -> dict[str, Any] | None:
    if limits is None:
        return None
    return {
        "low": round(float(limits.low), 4),
        "median": round(float(limits.middle), 4),
        "high": round(float(limits.high), 4),
        "earlier": limits.earlier,
    }
