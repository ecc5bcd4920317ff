"""What a kind of job calls for and nobody has said yet, and the bad news that stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from desk.drafting import OFFERED, kind_of
from desk.readback import spoken, wording
from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from extract.values.known import Known
from record import entries, jobs, queue


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A field that nobody has said anything of; `must` marks what must never be left."""

    field: str
    text: str
    must: bool

    def to_json(self) -> dict[str, Any]:
        """Give it as the phone is told it."""
        return {"field": self.field, "text": self.text, "must": self.must}


@dataclass(frozen=True, slots=True)
class News:
    """An adverse value that stands: as it is seen and said, and the caution that goes with it."""

    text: str
    say: str
    caution: str

    def to_json(self) -> dict[str, Any]:
        """Give it as the phone is told it."""
        return {"text": self.text, "say": self.say, "caution": self.caution}


def said_of(session: Any, job: int | None, drafts: Iterable[Draft]) -> set[str]:
    """Give the fields of which something was said in a job: drafted, entered, or told just now.

    A value that a person rejected was not said; one that speech only offers (a date) neither.
    """
    names = {draft.name for draft in drafts if OFFERED not in draft.doubts}
    if job is None:
        return names
    names |= {
        one.draft.name
        for one in queue.drafts(session, job)
        if one.state != "rejected" and OFFERED not in one.draft.doubts
    }
    return names | {one.name for one in entries.entries(session, job) if one.value is not None}


def kind(session: Any, job: int | None, names: set[str], catalogue: Catalogue, known: Known) -> str:
    """Give the kind of a job: as a person said it, else as what was said tells; empty for neither.

    What the profile names (`known`) may speak for another kind than what was said so far.
    """
    found = jobs.get(session, job) if job is not None else None
    if found is not None and not found.offered and found.kind in catalogue.jobs:
        return found.kind
    told = kind_of(names, catalogue)
    for rule in spoken.words()["still"]["rather"]:
        named = any(getattr(known, name) for name in rule["where"])
        if told and told[0] == rule["told"] and named and rule["take"] in catalogue.jobs:
            return str(rule["take"])
    return told[0] if told else ""


def unsaid(kind: str, names: set[str], catalogue: Catalogue) -> list[Unsaid]:
    """Give what a kind of job calls for and is not among `names`; what must not be left first."""
    job = catalogue.jobs.get(kind)
    if job is None:
        return []
    rules = spoken.words()["still"]
    must = [name for name in rules["must"] if name in (*job.required, *job.usual)]
    called = [name for name in job.required if name not in (*must, *rules["unasked"])]
    return [
        Unsaid(name, _capital(catalogue.fields[name].label), name in must)
        for name in (*must, *called)
        if name not in names
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def adverse(drafts: Sequence[Draft], catalogue: Catalogue, known: Known) -> list[News]:
    """Give the bad news among drafts, what stands open before what is only to be heeded."""
    found = []
    for draft in drafts:
        field = catalogue.fields[draft.name]
        bad = field.finding(draft.value, known)
        if bad is not None:
            line = wording.line(draft, catalogue)
            text = f"{line.text}{f': {bad.why}' if bad.why else ''}"
            found.append((not bad.stands, News(text, line.say, bad.caution.text)))
    return [news for _, news in sorted(found, key=lambda one: one[0])]


def all_said(kind: str, left: Sequence[Unsaid], bad: Sequence[News], asked: int) -> bool:
    """Tell whether nothing is left to say: the kind is known, nothing unsaid, bad or doubtful."""
    return bool(kind) and not left and not bad and not asked
