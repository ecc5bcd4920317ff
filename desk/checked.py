"""The checklist of a job as lines: what stands open first, then entered, waiting, never said."""

from __future__ import annotations

from collections.abc import Sequence

from desk import defects, findings
from desk.ledger import columns
from desk.opening import Opened
from desk.particulars import US
from extract.values.catalogue import Catalogue
from extract.values.known import Known
from record import adverse
from record.checklist import ENTERED, UNSAID, WAITING, Check, checklist, unlisted
from record.closing import label
from record.defects import Defect
from record.rules import items
from record.service import Service

LISTED = "14 CFR 43 Appendix A(c), lines this comes under (in our words; ask, do not rely):"

UNLISTED = (
    "not on that list, as far as this program can tell (who may do it, the rules that apply say)"
)
NO_LIST = (
    "This program holds no list of {country}: what an owner may do, and who may sign for it, your "
    "local rules say."
)


def checklist_of(here: Opened, job: int | None) -> list[str]:
    """Give the checklist of a job, the one named or the newest, as lines."""
    from desk.lookup import service_of
    from record.defects import not_cleared

    found = service_of(here, job)
    profile = here.settings.profile_of(found.job.aircraft)
    with here.store.session(write=False) as session:
        standing = not_cleared(session, found.job.aircraft)
    country = profile.paper.country
    return checklist_text(found, here.catalogue, profile.known(), country, standing)


def checklist_text(
    service: Service,
    catalogue: Catalogue,
    known: Known,
    country: str = US,
    standing: Sequence[Defect] = (),
) -> list[str]:
    """Give the checklist of a job as lines, adverse answers with their cautions at the top.

    The preventive list is shown where it is the `country`'s; `standing` are the aircraft's defects
    that are not cleared, of which those of other jobs are named.
    """
    bad = [
        *adverse.entered(service, catalogue, known),
        *adverse.waiting(service.waiting, catalogue, known),
    ]
    checks = checklist(service, catalogue, known)
    top = [*findings.lines(bad, catalogue), ""] if bad else []
    return [
        *top,
        *_table(checks, catalogue, country),
        "",
        _counted(checks),
        *_served(service, checks, catalogue, country),
        *_standing(service, standing),
        *_mind(service, catalogue, country),
    ]


def _standing(service: Service, standing: Sequence[Defect]) -> list[str]:
    here = {d.ref for d in service.defects}
    others = [defects.line(d) for d in standing if d.ref not in here]
    return (
        ["", "not cleared, from other jobs:", *(f"  {told}" for told in others)] if others else []
    )


def _mind(service: Service, catalogue: Catalogue, country: str) -> list[str]:
    """Say what to mind in such work, with its source where that is of the country."""
    kind = catalogue.jobs.get(service.job.kind)
    if kind is None or not kind.heed:
        return []
    told = [f"{one.text} ({one.source})" if country == US else one.text for one in kind.heed]
    return ["", "mind:", *(f"  {one}" for one in told)]


def _table(checks: Sequence[Check], catalogue: Catalogue, country: str) -> list[str]:
    listed = country == US
    head = ("", "field", "value", "state", "entered by", "list" if listed else "")
    rows: list[Sequence[str]] = [head]
    below: dict[int, list[str]] = {}
    for check in checks:
        rows.append(
            (
                mark(check),
                label(check.name, check.position, catalogue),
                _value(check, catalogue),
                state(check),
                check.entry.by if check.entry else "",
                ", ".join(map(str, check.items)) if listed else "",
            )
        )
        below[len(rows) - 1] = _below(check)
    shown = []
    for at, line in enumerate(columns(rows)):
        shown += [line, *below.get(at, [])]
    return shown


def mark(check: Check) -> str:
    """Give the mark of a line: a tick only for what is entered and not adverse."""
    if check.finding is not None:
        return findings.MARK
    if check.state == ENTERED:
        says_no = check.entry is not None and check.entry.value is False
        return "–" if says_no else "✓"
    if check.state == WAITING:
        return "?"
    return "MISSING" if check.called_for else "·"


def state(check: Check) -> str:
    """Give the state in words, with the word for bad news where there is some."""
    words = {ENTERED: "entered", WAITING: "drafted, waiting", UNSAID: "never said"}[check.state]
    if check.finding is None:
        return words
    return f"{words}, {findings.WORDS[check.finding.stands]}"


def _value(check: Check, catalogue: Catalogue) -> str:
    field = catalogue.fields.get(check.name)
    if check.entry is not None:
        value, said = check.entry.value, check.entry.said
    elif check.waits:
        value, said = check.waits[0].draft.value, check.waits[0].draft.said
    else:
        return ""
    if value is None:
        return ""
    shown = field.told(value, said) if field else str(value)
    return shown if check.entry is not None else f"({shown})"


def _below(check: Check) -> list[str]:
    numbers = ", ".join(str(q.id) for q in check.waits)
    made = [f"    outside: {o}" for o in check.outside]
    if check.accepted:
        made.append(f"    {check.accepted}")
    if check.waits and (check.entry is not None or len(check.waits) > 1):
        made.append(f"    not decided: draft {numbers}")
    return made


def _counted(checks: Sequence[Check]) -> str:
    count = {s: sum(c.state == s for c in checks) for s in (ENTERED, WAITING)}
    unsaid = sum(c.state == UNSAID and c.called_for for c in checks)
    return (
        f"{count[ENTERED]} entered, {count[WAITING]} drafted and waiting, "
        f"{unsaid} called for and never said"
    )


def _served(
    service: Service, checks: Sequence[Check], catalogue: Catalogue, country: str
) -> list[str]:
    if country != US:
        return ["", NO_LIST.format(country=country)]
    others = [label(e.name, e.position, catalogue) for e in unlisted(service)]
    left = ["", f"{UNLISTED}: {', '.join(others)}"] if others else []
    served = sorted({n for check in checks for n in check.items if check.state == ENTERED})
    listed = [f"  ({n}) {items()[n].what}" for n in served]
    return [*(["", LISTED, *listed] if listed else []), *left]
