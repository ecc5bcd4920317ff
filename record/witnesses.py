"""What a decision rests on, as it is sealed with it: aircraft, profile, recordings, transcripts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from sqlmodel import Session, col, select

from record.acts import told
from record.errors import IntegrityError
from record.seals import row_seal
from record.tables import EventRow, JobRow, MediaRow, TranscriptRow
from record.values import dump

PROFILE = "profile"  # what an event says that notes an aircraft's profile


NOT_SEALED: Mapping[str, str] = {}


def evidence(
    session: Session,
    job: int,
    media: Iterable[str] | None,
    sealed: Mapping[str, str] = NOT_SEALED,
) -> str:
    """Give the evidence of a decision as JSON; of `media` by name, or of all in the job (None).

    Each recording has its own SHA-256 and the seal of what was heard or read in it, null where that
    is not done; one that is not of the job is null. What an earlier decision sealed (`sealed`, name
    to SHA-256) is found by that, whatever it is called now and wherever it was moved. `profile` is
    the SHA-256 of the aircraft's profile as it was last noted. Raises IntegrityError where the row
    of a named recording is not what was sealed, as where two have one another's names.
    """
    query = select(MediaRow).where(MediaRow.job_id == job)
    wanted = None if media is None else {name for name in media if name}
    if wanted is not None:
        query = query.where(col(MediaRow.name).in_(wanted - sealed.keys()))
    rows = list(session.exec(query)) if wanted is None or wanted - sealed.keys() else []
    if wanted is not None:  # to close a job decides on no file of it
        _need_sealed(session, rows)
    named = {row.sha256: row.name for row in rows}
    if sealed:
        rows += session.exec(select(MediaRow).where(col(MediaRow.sha256).in_(sealed.values())))
        named |= {sha256: name for name, sha256 in sealed.items()}
    heard = _heard(session, [row.id or 0 for row in rows])
    found: dict[str, Any] = dict.fromkeys(wanted or ())
    for row in rows:
        found[named[row.sha256]] = {"sha256": row.sha256, "transcript": heard.get(row.id or 0)}
    it = session.get(JobRow, job)
    aircraft = it.aircraft if it else None
    profile = profile_of(session, aircraft)
    return dump({"aircraft": aircraft, "profile": profile, "media": found})


def _need_sealed(session: Session, rows: Iterable[MediaRow]) -> None:
    """Hold the rows that a person decides on to their seals; `check` names those never sealed."""
    touched = [row for row, _ in session.info.get("touched", {}).values()]
    columns = MediaRow.__table__.columns  # type: ignore[attr-defined]
    for row in rows:
        if row in touched or row in session.dirty:
            continue  # its seal is made when this session ends
        unit = f"media:{row.id}"
        named = select(EventRow.seals).where(col(EventRow.seals).contains(f'"{unit}":'))
        last = session.exec(named.order_by(col(EventRow.id).desc()).limit(1)).first()
        lies = session.connection().execute(select(*columns).where(columns["id"] == row.id))
        if last is not None and _seal_in(last, unit) != row_seal(
            "media", dict(lies.mappings().one())
        ):
            raise IntegrityError(
                f"{row.name} is not what was sealed, so nothing can be decided on it",
                todo="run `cowlnote check`",
            )


def _seal_in(seals: str, unit: str) -> str | None:
    try:
        found: str | None = json.loads(seals).get(unit)
    except (ValueError, AttributeError, RecursionError):
        return None
    return found


def sources(evidence: str | None) -> dict[str, str]:
    """Give what a decision rests on by its `evidence`: the SHA-256 of each file, by its name then.

    Nothing where it does not say, as older ones do not, or is damaged (`check` names that).
    """
    try:
        found = json.loads(evidence or "{}").get("media", {}).items()
        return {name: str(file["sha256"]) for name, file in found if file}
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}


def _heard(session: Session, media: list[int]) -> dict[int, str]:
    if not media:
        return {}
    columns = TranscriptRow.__table__.columns  # type: ignore[attr-defined]
    rows = session.connection().execute(select(*columns).where(columns["media_id"].in_(media)))
    return {row["media_id"]: row_seal("transcript", dict(row)) for row in rows.mappings()}


def profile_of(session: Session, aircraft: str | None) -> str | None:
    """Give the SHA-256 of the profile of an aircraft as it was last noted; None where none was.

    Without one of its own, that of the home counts.
    """
    home: str | None = None
    for act in _profiles(session):
        if aircraft and _plain(act["aircraft"]) == _plain(aircraft):
            return str(act["sha256"])
        if home is None and act["home"]:
            home = str(act["sha256"])
    return home


def noted(session: Session) -> dict[str, str]:
    """Give the SHA-256 of each profile as it was last noted, by where it lies in the home."""
    made: dict[str, str] = {}
    for act in _profiles(session):
        made.setdefault(act["file"], act["sha256"])
    return made


def _profiles(session: Session) -> Iterable[dict[str, Any]]:
    """Give what was noted of profiles, the newest first."""
    rows = select(EventRow.acts).where(EventRow.what == PROFILE).order_by(col(EventRow.id).desc())
    for acts in session.exec(rows):
        yield from reversed(told(acts, PROFILE))


def _plain(registration: str) -> str:
    return "".join(c for c in registration.upper() if c.isalnum())
