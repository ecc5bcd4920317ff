"""Whether a value may be put where another stands: into a slot that is taken, into a closed job."""

from __future__ import annotations

from collections.abc import Collection

from sqlmodel import Session

from extract.values.catalogue import Catalogue
from extract.values.draft import Draft, Value
from record import jobs, typed
from record.entries import standing
from record.errors import RefusedError, ReplacesError, StaleError
from record.seen import of_entry, text_of
from record.values import same


def need_leave(
    session: Session,
    job: int,
    draft: Draft,
    replaces: Collection[int],
    because: str,
    catalogue: Catalogue | None,
) -> Value | None:
    """Give the value that would be replaced. Raises where that was not named, or has no reason."""
    old = standing(session, job, draft.name, draft.position)
    if old is None or old.value is None:
        if replaces and old is not None:
            raise StaleError("the value to be replaced no longer counts")
        return None
    if same(old.value, draft.value):
        return old.value
    label = typed.label(draft.name, draft.position, catalogue)
    shown = of_entry(old, catalogue).value
    where = f" from {old.media}" if old.media else ""
    if old.id not in replaces:
        new = text_of(draft.name, draft.value, draft.unit, catalogue, draft.said)
        told = f"{label} is entered already as {shown} by {old.by}{where} “{old.heard}”"
        todo = f"to put {new} in its place give --replaces e{old.id} and --because TEXT"
        raise (StaleError(told) if replaces else ReplacesError(told, old.id, todo))
    if not because.strip():
        raise ReplacesError(
            f"{label} is {shown} by {old.by}{where}", old.id, "say why another takes its place"
        )
    return old.value


def need_late(session: Session, job: int, because: str) -> bool:
    """Tell whether an add to a job is a late entry. Raises RefusedError where it has no reason."""
    found = jobs.get(session, job)
    if found.is_open:
        jobs.need_open(session, job)
        return False
    if not because:
        raise RefusedError(
            f"job {job} was closed by {found.closed_by}",
            todo="what was never stated is added as a late entry, with --because TEXT",
        )
    return True
