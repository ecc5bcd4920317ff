"""Every table of the record. Rows are made in this room only, from checked values.

Measured values are text, with the kind that reads them back, so that no decimal passes through a
float. Moments are ISO 8601 text with the offset they had; a column ending in `_utc` holds the same
moment in UTC, for order and ranges. Seconds into a memo are floats. JSON columns are text.
"""

# No `from __future__ import annotations` here: it breaks table classes of SQLModel.

from sqlalchemy import Column, ForeignKey, Integer, Text
from sqlmodel import Field, SQLModel


def _ref(target: str, *, nullable: bool = False, index: bool = True) -> Column[int]:
    return Column(Integer, ForeignKey(target), nullable=nullable, index=index)


class JobRow(SQLModel, table=True):
    """One piece of work on one aircraft. Frozen once `closed_at` is set.

    `offered` says from what its kind was offered, and is empty once a person has said the kind; a
    job that is `aside` is kept and not counted.
    """

    __tablename__ = "job"

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    aircraft: str | None = Field(default=None, index=True)
    opened_at: str
    closed_at: str | None = None
    closed_by: str | None = None
    offered: str = ""
    aside: bool = False


class MediaRow(SQLModel, table=True):
    """A memo or photo in the vault.

    `state` is kept, heard or failed (then `reason` says why). `original` is the name it came with,
    `name` the one that drafts use: the same, unless two files of one day share a name. What is
    `aside` is kept and not counted.
    """

    __tablename__ = "media"

    id: int | None = Field(default=None, primary_key=True)
    sha256: str = Field(unique=True)
    name: str = Field(index=True)
    original: str
    size: int
    kind: str
    modified: str
    began: str | None = None
    began_utc: str | None = Field(default=None, index=True)
    began_source: str | None = None
    began_uncertainty_s: float | None = None
    began_doubt: str = ""
    state: str = Field(default="kept", index=True)
    reason: str = ""
    job_id: int | None = Field(default=None, sa_column=_ref("job.id", nullable=True))
    aside: bool = False


class TranscriptRow(SQLModel, table=True):
    """A memo as heard or a photo as read (`kind` memo or photo), whole, as JSON in `body`."""

    __tablename__ = "transcript"

    id: int | None = Field(default=None, primary_key=True)
    media_id: int = Field(
        sa_column=Column(Integer, ForeignKey("media.id"), nullable=False, unique=True)
    )
    kind: str
    engine: str
    made_at: str
    body: str = Field(sa_column=Column(Text, nullable=False))


class SegmentRow(SQLModel, table=True):
    """One stretch of speech, or one line read off a photo (without seconds); it is searched."""

    __tablename__ = "segment"

    id: int | None = Field(default=None, primary_key=True)
    media_id: int = Field(sa_column=_ref("media.id"))
    start_s: float | None = None
    end_s: float | None = None
    said_at: str | None = None
    said_utc: str | None = Field(default=None, index=True)
    text: str = Field(sa_column=Column(Text, nullable=False))


class DraftRow(SQLModel, table=True):
    """A draft of the queue. `state` is waiting, confirmed, amended, rejected, retracted or aside.

    `said` is the value with its unit as it was said, where that is not the field's unit. A draft is
    aside where what it was read from was moved or set aside before anybody decided it; retracted
    is what a person typed and took back. `version` counts its contents while it waited, from 1.
    """

    __tablename__ = "draft"

    id: int | None = Field(default=None, primary_key=True)
    job_id: int = Field(sa_column=_ref("job.id"))
    state: str = Field(default="waiting", index=True)
    name: str = Field(index=True)
    position: str
    kind: str
    value: str
    unit: str | None = None
    said: str | None = None
    media: str
    start_s: float | None = None
    end_s: float | None = None
    said_at: str | None = None
    heard: str
    confidence: float
    doubts: str
    alternatives: str
    quad: str | None = None
    also: str
    version: int = 1


class DecisionRow(SQLModel, table=True):
    """What a named person decided. Only ever added to; `id` is its place in the chain.

    `action` is confirm, amend, reject, add, late, undo, retract, correct, withdraw, close, reopen,
    defer, clear (a defect) or attach (a signed page). `draft` is the draft as it stood then, as
    JSON, so that the evidence is frozen with it; `shown` what the person had before their eyes, as
    JSON; `although` why a value was given that was doubtful; `evidence` names by their hashes the
    aircraft's profile, the recordings and what was heard in them, as JSON (null in older ones).
    """

    __tablename__ = "decision"

    id: int = Field(sa_column=Column(Integer, primary_key=True, autoincrement=False))
    job_id: int = Field(sa_column=_ref("job.id"))
    draft_id: int | None = Field(default=None, sa_column=_ref("draft.id", nullable=True))
    action: str
    by: str
    at: str
    because: str
    doubts: str
    draft: str | None = None
    shown: str | None = None
    although: str | None = None
    evidence: str | None = None
    prev: str
    hash: str


class EntryRow(SQLModel, table=True):
    """A value as a named person entered it. Only ever added to; `id` is its place in the chain.

    `supersedes` is the entry that this one replaces; the old one stays. The `kind` `none` withdraws
    it without putting a value in its place. `said` is the value with its unit as it was said or
    typed, where that is not the field's unit; `text` is what the search reads.
    """

    __tablename__ = "entry"

    id: int = Field(sa_column=Column(Integer, primary_key=True, autoincrement=False))
    job_id: int = Field(sa_column=_ref("job.id"))
    decision_id: int = Field(sa_column=_ref("decision.id"))
    supersedes: int | None = Field(default=None, sa_column=_ref("entry.id", nullable=True))
    name: str = Field(index=True)
    position: str
    kind: str
    value: str
    unit: str | None = None
    said: str | None = None
    media: str
    start_s: float | None = None
    end_s: float | None = None
    said_at: str | None = None
    said_utc: str | None = Field(default=None, index=True)
    heard: str
    by: str
    at: str
    text: str = Field(sa_column=Column(Text, nullable=False))
    prev: str
    hash: str


class ArrangementRow(SQLModel, table=True):
    """What a named person did to where memos, photos and jobs belong. Only ever added to.

    `action` is move, split, join, kind, aircraft, aside, back or clock; `media_id` is the memo or
    photo it was done to, None where it was done to the job. `was` and `becomes` are the number of a
    job, a kind, a registration or a moment, empty for none. It is a link of the same chain as
    decisions and entries, and `id` its place there.
    """

    __tablename__ = "arrangement"

    id: int = Field(sa_column=Column(Integer, primary_key=True, autoincrement=False))
    job_id: int = Field(sa_column=_ref("job.id"))
    media_id: int | None = Field(default=None, sa_column=_ref("media.id", nullable=True))
    action: str
    was: str
    becomes: str
    by: str
    at: str
    because: str
    prev: str
    hash: str


class LabReportRow(SQLModel, table=True):
    """A laboratory's report on an oil sample, as a named person entered it. Only ever added to.

    `taken` is the day of the sample; `tach`, `hours` (on the oil) are decimals as text; `levels` is
    JSON, the metal's symbol to the figure as printed. `supersedes` is the report it corrects; `id`
    is its place in a chain of its own.
    """

    __tablename__ = "lab_report"

    id: int = Field(sa_column=Column(Integer, primary_key=True, autoincrement=False))
    aircraft: str | None = Field(default=None, index=True)
    job_id: int | None = Field(default=None, sa_column=_ref("job.id", nullable=True))
    supersedes: int | None = Field(default=None, sa_column=_ref("lab_report.id", nullable=True))
    lab: str
    number: str
    taken: str
    tach: str | None = None
    hours: str | None = None
    levels: str
    note: str
    source: str
    doubts: str
    by: str
    at: str
    because: str
    prev: str
    hash: str


class EventRow(SQLModel, table=True):
    """What one change did to the record, with the seal of every row that it touched.

    `what` lists the acts by their words, `acts` says more of each, as JSON; `seals` is JSON, the
    unit (`media:17`) to the SHA-256 of its rows, null where they are gone. `links`, `reports` and
    their hashes are the ends of the two other chains then. Only ever added to; `id` is its place in
    a chain of its own, the journal, whose end stands for the whole record.
    """

    __tablename__ = "event"

    id: int = Field(sa_column=Column(Integer, primary_key=True, autoincrement=False))
    what: str = Field(index=True)
    acts: str = Field(sa_column=Column(Text, nullable=False))
    seals: str = Field(sa_column=Column(Text, nullable=False))
    links: int
    link_hash: str
    reports: int
    report_hash: str
    at: str
    prev: str
    hash: str
