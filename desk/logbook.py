"""The draft logbook entry: one value that the terminal prints and the paper draws.

What an entry must hold is 14 CFR 43.9(a): (1) a description of the work, (2) the date it was
completed, (3) the name of who did it, if not the one who approves it, (4) the signature,
certificate number and kind of certificate of the one who approves it. Nothing is signed here, and
while an adverse answer stands there is nowhere to sign.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

from desk import defects, findings, particulars
from desk.papers import elsewhere, label_of, phrase, told_in_order, value_of
from desk.profile import Profile
from extract.values.catalogue import Catalogue
from extract.values.known import Known
from record import adverse
from record.adverse import Bad
from record.checklist import unlisted
from record.closing import label
from record.entries import Entry
from record.service import Service

WIDTH = 78
BLANK = "_" * 30
GLUE = "\u00a0"  # between a figure and its unit, so that no line ends there
TO_SIGN = (
    "Work done by, if not the person signing",
    "Name",
    "Signature",
    "Certificate number",
    "Kind of certificate",
)
# The same elements where the program cannot cite the country's rule.
NEUTRAL = (*TO_SIGN[:3], "Licence or certificate number", "Kind of licence or certificate")
NOT_LISTED = (
    "not on the preventive list of 14 CFR 43 Appendix A(c), as far as this program can tell; who "
    "may do and approve it, the rules that apply say"
)
NOTICE = (
    "DRAFT. Not an approval for return to service: that takes the signature of a person authorised "
    "under the rules that apply. Read it against the work as done. The maker's current "
    "instructions and local rules come first."
)
UNSIGNED = (
    "Nothing to sign here while this is open. What closes it is a later value of the same field, "
    "entered by a named person; both stay in the record."
)

HEAD = "Head of the record when this was made"


@dataclass(frozen=True, slots=True)
class LogbookEntry:
    """A draft entry in its parts; figures and units are joined by a space that does not break.

    `facts` are pairs of label and value, the value empty where it is to be written in, and then
    `unknown` says what is known of it. `found` are the defects as they stand, `unlisted` what is on
    no line of the preventive list, `neutral` whether no rule of the country is named; `open` are
    the lines that stand in place of `to_sign`; `head` is that of the whole record; `heed`,
    `undecided`, `missing` are empty where there is nothing to say.
    """

    facts: tuple[tuple[str, str, str], ...]
    title: str
    work: tuple[str, ...]
    open: tuple[str, ...]
    heed: tuple[str, ...]
    undecided: str
    missing: str
    found: tuple[str, ...] = ()
    unlisted: str = ""
    neutral: bool = False
    head: str = ""

    @property
    def to_sign(self) -> tuple[str, ...]:
        """Give the labels of the lines to sign: none while something is open."""
        return () if self.open else NEUTRAL if self.neutral else TO_SIGN


def entry_of(service: Service, profile: Profile, catalogue: Catalogue) -> LogbookEntry:
    """Make the draft entry of a service, from confirmed values alone."""
    known = profile.known()
    job = catalogue.jobs.get(service.job.kind)
    bad = adverse.entered(service, catalogue, known)
    waits = adverse.waiting(service.waiting, catalogue, known)
    missing = [name for name in service.missing if name not in elsewhere()]
    names = ", ".join(label_of(name, None, catalogue) for name in missing)
    work, found = _work(service, catalogue, known), tuple(defects.found_in(service))
    return LogbookEntry(
        facts=tuple(_facts(service, profile, catalogue)),
        title=(job.label if job else service.job.kind).capitalize(),
        work=tuple(work) or (() if found else ("No work is confirmed yet.",)),
        open=(
            *(_told(b, catalogue) for b in bad if b.stands),
            *(_may_be(b, catalogue) for b in waits if b.stands),
        ),
        heed=tuple(_told(b, catalogue) for b in bad if not b.stands),
        undecided=_undecided(len(service.waiting)),
        missing=f"complete or strike out before signing: {names}." if names else "",
        found=found,
        unlisted=_unlisted(service, profile, catalogue),
        neutral=profile.paper.country != particulars.US,
        head=service.head,
    )


def _facts(
    service: Service, profile: Profile, catalogue: Catalogue
) -> Iterable[tuple[str, str, str]]:
    yield "Aircraft", service.job.aircraft or profile.registration, ""
    seen = f"; the memos and photos are of {service.on}" if service.on else ""
    day = service.entry("service_date")
    yield "Date completed", value_of(day, catalogue) if day else "", f"not confirmed{seen}"
    log = profile.hours_by or "tach_time"
    for name in sorted(("tach_time", "hour_meter_time"), key=lambda meter: meter != log):
        entry = service.entry(name)
        if name == log or entry:
            shown = _glued(value_of(entry, catalogue)) if entry else ""
            yield label_of(name, None, catalogue).capitalize(), shown, "not confirmed"
    yield from particulars.facts(service, profile)


def _work(service: Service, catalogue: Catalogue, known: Known) -> list[str]:
    """Give the work as sentences; what was adverse at first is told with what became of it."""
    told = []
    for entry in told_in_order(service):
        said = phrase(entry, catalogue)
        for old, _ in adverse.before(service, entry, catalogue, known):
            said += f" ({_first(service, old, catalogue)})"
        for old, _ in adverse.said_too(service, entry, catalogue, known):
            if (too := phrase(old, catalogue)) not in said:
                said += f" (also said: {too})"
        told.append(f"{said}.")
    for old, _, because in adverse.withdrawn(service, catalogue, known):
        told.append(f"Withdrawn: {phrase(old, catalogue)}, because {because}.")
    return [*told, *_reported(service), *defects.remarks(service)]


def _reported(service: Service) -> list[str]:
    """Say whose figures the compressions are: that test is a mechanic's, and is reported here."""
    if not any(name == "cylinder_compression" for name, _ in service.entries):
        return []
    who = service.entry("reported_by")
    by = who.value if who else f"{'_' * 12} (not confirmed)"
    return [f"Compressions as reported by {by}."]


def _unlisted(service: Service, profile: Profile, catalogue: Catalogue) -> str:
    """Say what of the work is on no line of the country's preventive list."""
    if profile.paper.country != particulars.US:
        return ""
    names = ", ".join(label(e.name, e.position, catalogue) for e in unlisted(service))
    return f"{NOT_LISTED}: {names}." if names else ""


def _first(service: Service, old: Entry, catalogue: Catalogue) -> str:
    later = next((e for e in _every(service) if e.id == old.superseded_by), None)
    because = service.decision(later).because if later else ""
    return f"before: {phrase(old, catalogue)}{f'; {because}' if because else ''}"


def _every(service: Service) -> tuple[Entry, ...]:
    return (*service.entries.values(), *service.replaced)


def _told(bad: Bad, catalogue: Catalogue) -> str:
    return f"{bad.finding.word} ({findings.shown(bad, catalogue)}). {bad.finding.caution.text}"


def _may_be(bad: Bad, catalogue: Catalogue) -> str:
    about = label(bad.name, bad.position, catalogue)
    return f"{about}: what was said of it may be bad news, and nobody has decided it yet."


def _undecided(count: int) -> str:
    if not count:
        return ""
    one = count == 1
    return (
        f"{count} draft{'' if one else 's'} wait{'s' if one else ''} for a decision; "
        "nothing of them is in this entry."
    )


def _glued(text: str) -> str:
    return text.replace(" ", GLUE)


def text(entry: LogbookEntry) -> str:
    """Give the draft entry as plain text; lines to be written on are blank."""
    lines = ["DRAFT LOGBOOK ENTRY", ""]
    for name, value, unknown in entry.facts:
        lines.append(f"{name:<19}{value or _blank(unknown)}")
    lines += ["", f"{entry.title}:", *_wrapped(" ".join(entry.work), "  ")]
    for told in entry.found:
        lines += ["", *_wrapped(told, "  ")]
    for word, told in (
        *(("HEED", line) for line in entry.heed),
        ("NOT LISTED", entry.unlisted),
        ("NOT CONFIRMED", entry.missing),
        ("NOT DECIDED", entry.undecided),
    ):
        if told:
            mark = ", " if word == "NOT CONFIRMED" else ": "
            lines += ["", *_wrapped(f"{word}{mark}{told}", "  ")]
    lines.append("")
    if entry.open:
        for told in entry.open:
            lines += _wrapped(f"OPEN: {told}")
        lines += ["", *_wrapped(UNSIGNED)]
    lines += [f"{name:<42}{BLANK}" for name in entry.to_sign]
    lines += ["", *_wrapped(NOTICE)]
    if entry.head:
        lines += ["", f"{HEAD}: {entry.head}"]
    return "\n".join(lines).replace(GLUE, " ")


def _blank(unknown: str) -> str:
    return f"{'_' * 12} ({unknown})" if unknown else BLANK


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
