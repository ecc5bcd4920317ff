"""Find what was said, read or entered: by words, by day, by field and value."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from decimal import Decimal, InvalidOperation
from typing import Any

from sqlalchemy import Integer, Select, column, literal_column, or_, select
from sqlalchemy import func as sql
from sqlalchemy import table as table_of
from sqlmodel import Session, col

from extract.values.draft import Position
from record import chain
from record.entries import entries
from record.tables import DecisionRow, EntryRow, JobRow, MediaRow, SegmentRow
from record.values import moment, position, utc
from record.witnesses import sources

SLACK_S = 0.5  # how far the words of an entry may stand out of the stretch that was found
FURTHEST = timedelta(hours=14)  # no clock is set further from UTC


@dataclass(frozen=True, slots=True)
class Hit:
    """Something found: words spoken or read (`entry` is None), or an entry of the record.

    `second`, `end` are seconds into the memo `media` (None for a photo or a typed value), `said_at`
    carries its offset, `text` is the sentence, the line or the words heard. Of an entry, `field`,
    `position`, `value` (None where withdrawn), `unit` and `by`; `replaced` when a later one took
    its place, or it was withdrawn. What is `aside` is kept and not counted.
    """

    media: str
    sha256: str | None
    job: int | None
    second: float | None
    end: float | None
    said_at: datetime | None
    text: str
    entry: int | None = None
    field: str | None = None
    position: Position = None
    value: str | None = None
    unit: str | None = None
    by: str | None = None
    replaced: bool = False
    aside: bool = False


Day = date | datetime | None
Query = Select[*tuple[Any, ...]]


def find(
    session: Session,
    words: str = "",
    since: Day = None,
    until: Day = None,
    field: str | None = None,
    value: str | None = None,
    *,
    aircraft: str | None = None,
    limit: int = 200,
    zone: tzinfo | None = None,
) -> list[Hit]:
    """Find by words, time, field and value; all that is given must hold. In the order of speaking.

    Each is given once: what was entered from words that were found stands for them, and a value
    that was entered, taken back and entered again is one. What was typed is dated in `zone`.

    Every word must be there, whole or as a beginning (`weep` finds `weeping`); a figure must be
    there whole. `since` and `until` are days where it was said, both included, or moments. With
    `field` or `value` only entries are looked at, replaced ones too. The newest `limit` are given.
    """
    tokens = _tokens(words)
    if words.strip() and not tokens:
        return []
    when = _When(since, until)
    hits = _once(_entries(session, tokens, when, field, value, aircraft, limit, zone))
    if field is None and value is None:
        said = _segments(session, tokens, when, aircraft, limit)
        hits += [one for one in said if not any(_of(entry, one) for entry in hits)]
    hits = _marked(session, hits)
    return sorted(hits, key=lambda h: (utc(h.said_at) or "", h.entry or 0))[-limit:]


def _once(entries: list[Hit]) -> list[Hit]:
    """Give one hit for each value of a place, the one that counts if there is one."""
    made: dict[tuple[Any, ...], Hit] = {}
    withdrawn: list[Hit] = []
    for hit in sorted(entries, key=lambda h: (not h.replaced, h.entry or 0)):
        if hit.value is None:
            withdrawn.append(hit)
        else:
            made[(*_place(hit), _flat(hit.value))] = hit
    shown = {_place(hit) for hit in made.values()}
    # one that was withdrawn is found by what it withdrew, which is marked as replaced
    alone = {_place(hit): hit for hit in withdrawn if _place(hit) not in shown}
    return [*made.values(), *alone.values()]


def _place(hit: Hit) -> tuple[Any, ...]:
    return hit.job, hit.field, str(hit.position), hit.media, hit.second


def _of(entry: Hit, said: Hit) -> bool:
    """Tell whether an entry was made from the words or the line that were found."""
    if not entry.media or (entry.media, entry.job) != (said.media, said.job):
        return False
    if entry.second is None or said.second is None:
        return entry.second is said.second and said.text in entry.text
    return said.second - SLACK_S <= entry.second and (entry.end or 0) <= (said.end or 0) + SLACK_S


def _marked(session: Session, hits: list[Hit]) -> list[Hit]:
    """Mark what is of a job, or a memo or photo, that is set aside."""
    gone = select(col(JobRow.id)).where(col(JobRow.aside).is_(True))
    jobs = set(session.execute(gone).scalars())
    away = select(col(MediaRow.sha256)).where(col(MediaRow.aside).is_(True))
    files = set(session.execute(away).scalars())
    return [
        replace(hit, aside=True) if hit.job in jobs or hit.sha256 in files else hit for hit in hits
    ]


def _tokens(words: str) -> list[str]:
    return re.findall(r"[^\W_]+", unicodedata.normalize("NFC", words).lower())


@dataclass(frozen=True, slots=True)
class _When:
    """A range of time; a day means the day where it was said, whatever UTC had."""

    since: Day
    until: Day

    @property
    def utc(self) -> tuple[str | None, str | None]:
        """Give the ends in UTC; of days, so far out that no offset can reach further."""
        return _bound(self.since, -FURTHEST), _bound(self.until, _DAY + FURTHEST)

    def narrow(self, query: Query, said_utc: Any, said_at: Any) -> Query:
        """Add the range to a query; what has no time is then left out."""
        since, until = self.utc
        if since is not None:
            query = query.where(said_utc >= since)
        if until is not None:
            query = query.where(said_utc <= until)
        # Only near the ends of a range can the local day be another: the rest needs no look at it.
        local = sql.substr(said_at, 1, 10)
        if _is_day(self.since):
            sure = said_utc >= _bound(self.since, FURTHEST)
            query = query.where(or_(sure, local >= str(self.since)))
        if _is_day(self.until):
            sure = said_utc <= _bound(self.until, _DAY - FURTHEST)
            query = query.where(or_(sure, local <= str(self.until)))
        return query


def _is_day(day: Day) -> bool:
    return day is not None and not isinstance(day, datetime)


def _bound(day: Day, wider: timedelta) -> str | None:
    if day is None or isinstance(day, datetime):
        return utc(day)
    return utc(_near(datetime(day.year, day.month, day.day, tzinfo=UTC), wider))


def _near(moment: datetime, off: timedelta) -> datetime:
    """Give a moment so much later or earlier, or the last or first there is."""
    try:
        return moment + off
    except OverflowError:
        return LAST if off > timedelta(0) else FIRST


_DAY = timedelta(days=1)
FIRST, LAST = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)


def _matching(session: Session, query: Query, table: str, tokens: list[str]) -> Query:
    if not tokens:
        return query
    if session.get_bind().dialect.name == "postgresql":
        asked = " & ".join(f"'{t}'" if t.isdigit() else f"'{t}':*" for t in tokens)
        asks = sql.to_tsquery(literal_column("'simple'"), asked)
        return query.where(literal_column(f"{table}.words").op("@@")(asks))
    asked = " ".join(f'"{t}"' if t.isdigit() else f'"{t}"*' for t in tokens)
    words = table_of(f"{table}_words", column("rowid"), column("text"))
    number = literal_column(f"{table}.id", Integer)
    # By the index's own numbers, so that the newest are found without sorting all.
    query = query.join(words, words.c.rowid == number).where(words.c.text.op("MATCH")(asked))
    return query.order_by(None).order_by(words.c.rowid.desc())


def _segments(
    session: Session, tokens: list[str], when: _When, aircraft: str | None, limit: int
) -> list[Hit]:
    query: Query = (
        select(
            col(MediaRow.name),
            col(MediaRow.sha256),
            col(MediaRow.job_id),
            col(SegmentRow.start_s),
            col(SegmentRow.end_s),
            col(SegmentRow.said_at),
            col(SegmentRow.text),
        )
        .join(SegmentRow, col(SegmentRow.media_id) == MediaRow.id)
        .order_by(col(SegmentRow.id).desc())
        .limit(limit)
    )
    if when.since or when.until:
        if session.get_bind().dialect.name == "sqlite":
            first, last = _span(session, when)
            if first is None:
                return []
            query = query.where(col(SegmentRow.id).between(first, last))
        else:
            query = query.order_by(None).order_by(col(SegmentRow.said_utc).desc())
        query = when.narrow(query, col(SegmentRow.said_utc), col(SegmentRow.said_at))
    query = _matching(session, query, "segment", tokens)
    if aircraft is not None:
        query = query.join(JobRow, col(MediaRow.job_id) == JobRow.id).where(
            col(JobRow.aircraft) == aircraft
        )
    return [
        Hit(name, sha256, job, start, end, moment(said), line)
        for name, sha256, job, start, end, said, line in session.execute(query)
    ]


def _span(session: Session, when: _When) -> tuple[int | None, int | None]:
    """Give the lowest and highest number of a segment of media of that time.

    Numbers rise with time, nearly, so these ends keep SQLite's text search for common words short
    (PostgreSQL walks its index of time instead). Asked of the media, of which there are few; a memo
    may have begun the day before.
    """
    since, until = when.utc
    ends = [
        select(which(col(SegmentRow.id)))
        .where(col(SegmentRow.media_id) == MediaRow.id)
        .correlate(MediaRow)
        .scalar_subquery()
        for which in (sql.min, sql.max)
    ]
    query: Query = select(sql.min(ends[0]), sql.max(ends[1])).select_from(MediaRow)
    if since is not None:
        before = _near(datetime.fromisoformat(since), -_DAY)
        query = query.where(col(MediaRow.began_utc) >= utc(before))
    if until is not None:
        query = query.where(col(MediaRow.began_utc) <= until)
    first, last = session.execute(query).one()
    return first, last


def _entries(
    session: Session,
    tokens: list[str],
    when: _When,
    field: str | None,
    value: str | None,
    aircraft: str | None,
    limit: int,
    zone: tzinfo | None,
) -> list[Hit]:
    undoing = select(col(DecisionRow.id)).where(col(DecisionRow.action).in_(chain.UNDOES))
    query: Query = (
        select(EntryRow)
        .where(col(EntryRow.decision_id).not_in(undoing))
        .order_by(col(EntryRow.id).desc())
    )
    if field is not None:
        query = query.where(col(EntryRow.name) == field)
    if when.since or when.until:
        said = sql.coalesce(col(EntryRow.said_at), col(EntryRow.at))
        query = when.narrow(query, col(EntryRow.said_utc), said)
    if aircraft is not None:
        query = query.join(JobRow, col(EntryRow.job_id) == JobRow.id).where(
            col(JobRow.aircraft) == aircraft
        )
    if value is None:
        query = query.limit(limit)
    rows = session.execute(_matching(session, query, "entry", tokens)).scalars()
    found = [row for row in rows if value is None or _is(row.value, value)][:limit]
    names = {row.media for row in found}
    media = {
        (row.name, row.job_id): row.sha256
        for row in session.execute(select(MediaRow).where(col(MediaRow.name).in_(names))).scalars()
    }
    sealed = _sealed(session, found)
    gone = _replaced(session, {row.job_id for row in found})
    return [
        Hit(
            row.media,
            sealed[row.decision_id].get(row.media) or media.get((row.media, row.job_id)),
            row.job_id,
            row.start_s,
            row.end_s,
            moment(row.said_at) or datetime.fromisoformat(row.at).astimezone(zone),
            row.heard,
            row.id,
            row.name,
            position(row.position),
            row.value or None,
            row.unit,
            row.by,
            row.id in gone,
        )
        for row in found
    ]


def _sealed(session: Session, rows: list[EntryRow]) -> dict[int, dict[str, str]]:
    """Give what the decisions of entries rest on: each file's hash by its name then."""
    of = select(col(DecisionRow.id), col(DecisionRow.evidence)).where(
        col(DecisionRow.id).in_({row.decision_id for row in rows})
    )
    return {number: sources(evidence) for number, evidence in session.execute(of)}


def _replaced(session: Session, among: set[int]) -> set[int]:
    """Give the entries of some jobs in whose place another stands, or that were taken back."""
    return {
        e.id
        for job in among
        for e in entries(session, job, every=True)
        if e.superseded_by or e.undone
    }


def _is(stored: str, asked: str) -> bool:
    try:
        return Decimal(stored) == Decimal(asked.strip())
    except InvalidOperation:
        return _flat(stored) == _flat(asked)


def _flat(written: str) -> str:
    return "".join(_tokens(written))
