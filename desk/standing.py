"""What the services of an aircraft leave open, and which jobs wait and are not counted."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from desk import defects, findings
from desk.ledger import Ledger
from extract.values.catalogue import Catalogue
from extract.values.defects import DEFECT
from extract.values.draft import Position
from extract.values.known import Known
from record import adverse
from record.adverse import Bad
from record.history import Line, is_oil_change


def open_of(
    lines: Iterable[Line], catalogue: Catalogue, known: Known
) -> list[tuple[Line, list[Bad]]]:
    """Give each service with the bad news in it that no later value of the same field resolved."""
    found: dict[int, tuple[Line, list[Bad]]] = {}
    last: dict[tuple[str, Position], int] = {}
    for line in lines:
        for slot in line.service.entries:
            before = last.get(slot)
            if before is not None and before in found:
                kept = [b for b in found[before][1] if (b.name, b.position) != slot]
                found[before] = found[before][0], kept
            last[slot] = line.service.job.id
        bad = adverse.entered(line.service, catalogue, known)
        # a defect is listed by itself, with what became of it
        bad = [b for b in bad if b.stands and b.name != DEFECT]
        found[line.service.job.id] = line, bad
    return [(line, bad) for line, bad in found.values() if bad]


def waiting_text(line: Line) -> str:
    """Say that a job waits and so is not counted, or only in part; empty where nothing waits."""
    job = line.service.job
    if not job.waiting:
        return ""
    one = job.waiting == 1
    drafts = f"{job.waiting} draft{'' if one else 's'} wait{'s' if one else ''} for a decision"
    if is_oil_change(line.service):
        return f"job {job.id} is counted by what is confirmed alone: {drafts}"
    return f"job {job.id} waits, not counted: {drafts}"


def standing_text(ledger: Ledger, catalogue: Catalogue, known: Known) -> list[str]:
    """Give what stands open and what waits, for the foot of `due`; empty where nothing does."""
    said = []
    for line, bad in open_of(ledger.lines, catalogue, known):
        day = f", {line.service.on.isoformat()}" if line.service.on else ""
        said.append(f"OPEN in job {line.service.job.id}{day}")
        said += [f"  {told}" for told in findings.lines(bad, catalogue)]
    said += defects.foot(line.service for line in ledger.lines)
    return [*said, *(told for line in ledger.lines if (told := waiting_text(line)))]


def standing_heads(ledger: Ledger, catalogue: Catalogue, known: Known) -> list[str]:
    """Give the same in a line a job, where the cautions stand beside each job anyway."""
    said = [*open_heads(ledger, catalogue, known)]
    said += defects.foot(line.service for line in ledger.lines)
    return [*said, *(told for line in ledger.lines if (told := waiting_text(line)))]


def open_heads(ledger: Ledger, catalogue: Catalogue, known: Known) -> list[str]:
    """Give a line for each job with bad news that nothing later resolved."""
    return [
        f"{findings.MARK} OPEN in job {line.service.job.id}: "
        + ", ".join(b.finding.word for b in bad)
        for line, bad in open_of(ledger.lines, catalogue, known)
    ]


def standing_json(ledger: Ledger, catalogue: Catalogue, known: Known) -> dict[str, Any]:
    """Give the same JSON-ready: `open` by job and word, `waiting` as job and number of drafts."""
    return {
        "open": [
            {"job": line.service.job.id, "name": b.name, "word": b.finding.word}
            for line, bad in open_of(ledger.lines, catalogue, known)
            for b in bad
        ],
        "defects": [
            defects.as_json(d) for d in defects.standing(line.service for line in ledger.lines)
        ],
        "waiting": {
            str(line.service.job.id): line.service.job.waiting
            for line in ledger.lines
            if line.service.job.waiting
        },
    }
