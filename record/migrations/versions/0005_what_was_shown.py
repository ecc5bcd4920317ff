"""What was shown to who decided; values given though doubtful; late entries; typed ones undone."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

# ruff: noqa: S608 (the statements are made of the constants below)
FROZEN = "the job is closed; a later correction is a new entry"
# The guards of 0001 that are widened: table, event, condition (CLOSED(x): job x is closed), words.
GUARDS = (
    (
        "decision",
        "INSERT",
        "NEW.action NOT IN ('correct', 'withdraw', 'late') AND CLOSED(NEW.job_id)",
        FROZEN,
    ),
    # what was typed of a closed job stands decided from the first, as a late entry
    (
        "draft",
        "INSERT",
        "CLOSED(NEW.job_id) AND NOT (NEW.state = 'confirmed' AND NEW.media = '')",
        FROZEN,
    ),
    # an undo lets it wait again, as it was, or takes it away where nobody had spoken it
    (
        "draft",
        "UPDATE",
        "OLD.state <> 'waiting' AND (NEW.state NOT IN ('waiting', 'retracted') "
        "OR NEW.value <> OLD.value) OR CLOSED(OLD.job_id)",
        "a decided draft is not changed",
    ),
)


def upgrade() -> None:
    """Add the columns, and put the widened guards in the place of the old."""
    op.add_column("decision", sa.Column("shown", sa.String()))
    op.add_column("decision", sa.Column("although", sa.String()))
    version = sa.Column("version", sa.Integer(), nullable=False, server_default="1")
    op.add_column("draft", version)
    postgres = op.get_bind().dialect.name == "postgresql"
    for table, event, when, says in GUARDS:
        name = f"{table}_no_{event.lower()}"
        op.execute(sa.text(f"DROP TRIGGER {name}" + (f" ON {table}" if postgres else "")))
        made = _postgres if postgres else _sqlite
        op.execute(sa.text(made(name, table, event, when, says).replace(":", r"\:")))


def _sqlite(name: str, table: str, event: str, when: str, says: str) -> str:
    for job in ("OLD.job_id", "NEW.job_id"):
        when = when.replace(
            f"CLOSED({job})", f"(SELECT closed_at FROM job WHERE id = {job}) IS NOT NULL"
        )
    return (
        f"CREATE TRIGGER {name} BEFORE {event} ON {table} WHEN {when} "
        f"BEGIN SELECT RAISE(ABORT, 'refused: {says}'); END"
    )


def _postgres(name: str, table: str, event: str, when: str, says: str) -> str:
    when = when.replace("CLOSED", "cowlnote_closed")
    return (
        f"CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW WHEN ({when}) "
        f"EXECUTE FUNCTION cowlnote_refuse('{says}')"
    )
