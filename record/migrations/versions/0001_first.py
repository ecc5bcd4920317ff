"""The first tables, their guards and the text search."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# ruff: noqa: S608 (the statements are made of the constants below)
FROZEN = "the job is closed; a later correction is a new entry"
LATER = "('correct', 'withdraw')"  # what may still be decided about a closed job
# table, event, condition (CLOSED(x): the job x is closed), what is said
GUARDS = (
    ("decision", "UPDATE", "", "decisions are only ever added to"),
    ("decision", "DELETE", "", "decisions are only ever added to"),
    ("entry", "UPDATE", "", "entries are only ever added to"),
    ("entry", "DELETE", "", "entries are only ever added to"),
    (
        "decision",
        "INSERT",
        "NEW.action NOT IN ('correct', 'withdraw') AND CLOSED(NEW.job_id)",
        FROZEN,
    ),
    ("draft", "INSERT", "CLOSED(NEW.job_id)", FROZEN),
    # an undo lets it wait again, as it was
    (
        "draft",
        "UPDATE",
        "OLD.state <> 'waiting' AND (NEW.state <> 'waiting' OR NEW.value <> OLD.value) "
        "OR CLOSED(OLD.job_id)",
        "a decided draft is not changed",
    ),
    ("draft", "DELETE", "OLD.state <> 'waiting'", "a decided draft is not deleted"),
    ("job", "UPDATE", "OLD.closed_at IS NOT NULL", FROZEN),
    ("job", "DELETE", "OLD.closed_at IS NOT NULL", FROZEN),
    ("media", "UPDATE", "CLOSED(OLD.job_id) OR CLOSED(NEW.job_id)", FROZEN),
    ("media", "DELETE", "CLOSED(OLD.job_id)", FROZEN),
)
SEARCHED = ("segment", "entry")
# Only letters and figures count, so that "-227A" is found by "227a" on either engine.
PG_TEXT = "to_tsvector('simple', regexp_replace(text, '[^[:alnum:]]+', ' ', 'g'))"


def upgrade() -> None:
    """Make the tables, then what the engine at hand needs to guard and search them."""
    _tables()
    postgres = op.get_bind().dialect.name == "postgresql"
    for statement in _postgres() if postgres else _sqlite():
        op.execute(sa.text(statement.replace(":", r"\:")))


def _sqlite() -> list[str]:
    made = []
    for table, event, when, says in GUARDS:
        for job in ("OLD.job_id", "NEW.job_id"):
            when = when.replace(
                f"CLOSED({job})", f"(SELECT closed_at FROM job WHERE id = {job}) IS NOT NULL"
            )
        made.append(
            f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} "
            + (f"WHEN {when} " if when else "")
            + f"BEGIN SELECT RAISE(ABORT, 'refused: {says}'); END"
        )
    for table in ("decision", "entry"):  # INSERT OR REPLACE deletes without a delete trigger
        made.append(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id) "
            "BEGIN SELECT RAISE(ABORT, 'refused: the record is only ever added to'); END"
        )
    for table in SEARCHED:
        index = f"{table}_words"
        add = f"INSERT INTO {index}(rowid, text) VALUES (new.id, new.text);"
        drop = f"INSERT INTO {index}({index}, rowid, text) VALUES ('delete', old.id, old.text);"
        made += [
            f"CREATE VIRTUAL TABLE {index} USING fts5(text, content='{table}', content_rowid='id', "
            "tokenize='unicode61 remove_diacritics 2', prefix='2 3 4')",
            f"CREATE TRIGGER {index}_add AFTER INSERT ON {table} BEGIN {add} END",
            f"CREATE TRIGGER {index}_drop AFTER DELETE ON {table} BEGIN {drop} END",
            f"CREATE TRIGGER {index}_change AFTER UPDATE OF text ON {table} BEGIN {drop} {add} END",
        ]
    return made


def _postgres() -> list[str]:
    made = [
        "CREATE FUNCTION cowlnote_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION 'refused: %', TG_ARGV[0] USING ERRCODE = '23000'; END $$",
        "CREATE FUNCTION cowlnote_closed(job_id integer) RETURNS boolean LANGUAGE sql STABLE AS "
        "$$ SELECT EXISTS (SELECT 1 FROM job WHERE id = job_id AND closed_at IS NOT NULL) $$",
    ]
    for table, event, when, says in GUARDS:
        when = when.replace("CLOSED", "cowlnote_closed")
        made.append(
            f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} FOR EACH ROW "
            + (f"WHEN ({when}) " if when else "")
            + f"EXECUTE FUNCTION cowlnote_refuse('{says}')"
        )
    for table in ("decision", "entry"):
        made.append(
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} FOR EACH STATEMENT "
            "EXECUTE FUNCTION cowlnote_refuse('decisions and entries are only ever added to')"
        )
    for table in SEARCHED:
        words = f"tsvector GENERATED ALWAYS AS ({PG_TEXT}) STORED"
        made.append(f"ALTER TABLE {table} ADD COLUMN words {words}")
        made.append(f"CREATE INDEX {table}_words ON {table} USING gin (words)")
    return made


def _text(name: str, *, null: bool = False, index: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=null, index=index)


def _ref(name: str, target: str, *, null: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), sa.ForeignKey(target), nullable=null, index=True)


def _seconds() -> list[sa.Column[float]]:
    return [sa.Column("start_s", sa.Float()), sa.Column("end_s", sa.Float())]


def _tables() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), primary_key=True),
        _text("kind"),
        _text("aircraft", null=True, index=True),
        _text("opened_at"),
        _text("closed_at", null=True),
        _text("closed_by", null=True),
    )
    op.create_table(
        "media",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("sha256", sa.String(), nullable=False, unique=True),
        _text("name", index=True),
        _text("original"),
        sa.Column("size", sa.Integer(), nullable=False),
        _text("kind"),
        _text("modified"),
        _text("began", null=True),
        _text("began_utc", null=True, index=True),
        _text("began_source", null=True),
        sa.Column("began_uncertainty_s", sa.Float()),
        _text("began_doubt"),
        _text("state", index=True),
        _text("reason"),
        _ref("job_id", "job.id", null=True),
    )
    op.create_table(
        "transcript",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("media_id", sa.Integer(), sa.ForeignKey("media.id"), nullable=False, unique=True),
        _text("kind"),
        _text("engine"),
        _text("made_at"),
        sa.Column("body", sa.Text(), nullable=False),
    )
    op.create_table(
        "segment",
        sa.Column("id", sa.Integer(), primary_key=True),
        _ref("media_id", "media.id"),
        *_seconds(),
        _text("said_at", null=True),
        _text("said_utc", null=True, index=True),
        sa.Column("text", sa.Text(), nullable=False),
    )
    op.create_table(
        "draft",
        sa.Column("id", sa.Integer(), primary_key=True),
        _ref("job_id", "job.id"),
        _text("state", index=True),
        _text("name", index=True),
        _text("position"),
        _text("kind"),
        _text("value"),
        _text("unit", null=True),
        _text("media"),
        *_seconds(),
        _text("said_at", null=True),
        _text("heard"),
        sa.Column("confidence", sa.Float(), nullable=False),
        _text("doubts"),
        _text("alternatives"),
        _text("quad", null=True),
        _text("also"),
    )
    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        _ref("job_id", "job.id"),
        _ref("draft_id", "draft.id", null=True),
        _text("action"),
        _text("by"),
        _text("at"),
        _text("because"),
        _text("doubts"),
        _text("draft", null=True),
        _text("prev"),
        _text("hash"),
    )
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        _ref("job_id", "job.id"),
        _ref("decision_id", "decision.id"),
        _ref("supersedes", "entry.id", null=True),
        _text("name", index=True),
        _text("position"),
        _text("kind"),
        _text("value"),
        _text("unit", null=True),
        _text("media"),
        *_seconds(),
        _text("said_at", null=True),
        _text("said_utc", null=True, index=True),
        _text("heard"),
        _text("by"),
        _text("at"),
        sa.Column("text", sa.Text(), nullable=False),
        _text("prev"),
        _text("hash"),
    )
