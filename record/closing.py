"""Closing a job: what is missing, adverse and undecided is listed, and needs a reason to go on."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Position, Value
from extract.values.known import NOTHING, Known
from record import adverse, chain, jobs
from record.adverse import Bad
from record.errors import RefusedError
from record.service import Service, service


@dataclass(frozen=True, slots=True)
class Left:
    """What keeps a job from being whole, each a line of plain words; empty where nothing does."""

    adverse: tuple[str, ...]
    missing: tuple[str, ...]
    waiting: tuple[str, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """Give all lines, the adverse ones first; they go into the record with the reason."""
        return self.adverse + self.missing + self.waiting

    def __str__(self) -> str:
        """Count them: `1 adverse, 3 missing, 2 waiting`."""
        counts = (
            ("adverse", self.adverse),
            ("missing", self.missing),
            ("waiting", self.waiting),
        )
        return ", ".join(f"{len(lines)} {word}" for word, lines in counts if lines)


def left(found: Service, catalogue: Catalogue, known: Known = NOTHING) -> Left:
    """Say what is missing, adverse and undecided in a job as it stands now."""
    bad = adverse.entered(found, catalogue, known)
    bad_of = {id(b.waits): b for b in adverse.waiting(found.waiting, catalogue, known)}
    drafted = {q.draft.name for q in found.waiting}
    waiting = []
    for queued in found.waiting:
        draft, told = queued.draft, bad_of.get(id(queued))
        doubtful = ", doubtful" if draft.doubts else ""
        word = f", {told.finding.word}" if told else ""
        shown = _shown(draft.name, draft.value, draft.unit, catalogue)
        about = label(draft.name, draft.position, catalogue)
        waiting.append(f"waiting: {about} {shown} (draft {queued.id}{doubtful}{word})")
    return Left(
        tuple(told_of(b, catalogue) for b in bad),
        tuple(f"missing: {label(n, None, catalogue)}" for n in found.missing if n not in drafted),
        tuple(waiting),
    )


def told_of(bad: Bad, catalogue: Catalogue) -> str:
    """Say an adverse answer in a line, without its caution."""
    shown = _shown(bad.name, bad.value, bad.unit, catalogue)
    why = f", {bad.finding.why}" if bad.finding.why else ""
    state = "adverse" if bad.stands else "to be heeded"
    about = label(bad.name, bad.position, catalogue)
    return f"{state}: {bad.finding.word} ({about}: {shown}{why})"


def label(name: str, position: Position, catalogue: Catalogue) -> str:
    """Give the plain words for a field and its position."""
    field = catalogue.fields.get(name)
    words = field.label if field is not None else name.replace("_", " ")
    return words if position is None else f"{words} {position}"


def _shown(name: str, value: Value, unit: str | None, catalogue: Catalogue) -> str:
    field: Field | None = catalogue.fields.get(name)
    if field is None:
        return " ".join(filter(None, (str(value), unit)))
    return field.show(value)


def close(
    session: Session,
    job: int,
    by: str,
    because: str = "",
    *,
    catalogue: Catalogue,
    known: Known = NOTHING,
    seen: tuple[str, ...] | None = None,
) -> Left:
    """Freeze a job in the name of a person; give what was left, which goes into the record too.

    Where anything is missing, adverse or undecided, it takes a reason. `seen` are the lines that
    the person was shown, where a page showed them. Raises RefusedError: no name, closed already,
    no reason, or not what was shown any more.
    """
    by = chain.person(by)
    jobs.need_open(session, job)
    found = left(service(session, job, catalogue), catalogue, known)
    if seen is not None and seen != found.lines:
        raise RefusedError(
            f"job {job} is not as it was shown any more", todo="look at the list again, then close"
        )
    if found.lines and not because.strip():
        raise RefusedError(
            f"job {job} is not whole: {found}", todo="say why it is closed all the same"
        )
    jobs.close(session, job, by, because=" ".join(because.split()), left=found.lines)
    return found
