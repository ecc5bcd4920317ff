"""Laboratory reports on oil samples, chained like entries."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

# ruff: noqa: S608 (the statements are made of the constant below)
SAYS = "laboratory reports are only ever added to"


def upgrade() -> None:
    """Make the table, and refuse any change of a report."""
    op.create_table(
        "lab_report",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("aircraft", sa.String(), index=True),
        sa.Column("job_id", sa.Integer(), sa.ForeignKey("job.id"), index=True),
        sa.Column("supersedes", sa.Integer(), sa.ForeignKey("lab_report.id"), index=True),
        *(_text(name) for name in ("lab", "number", "taken")),
        sa.Column("tach", sa.String()),
        sa.Column("hours", sa.String()),
        *(_text(n) for n in ("levels", "note", "source", "doubts", "by", "at", "because")),
        *(_text(n) for n in ("prev", "hash")),
    )
    postgres = op.get_bind().dialect.name == "postgresql"
    for statement in _postgres() if postgres else _sqlite():
        op.execute(sa.text(statement))


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=False)


def _sqlite() -> list[str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, 'refused: {SAYS}'); END"
    made = [
        f"CREATE TRIGGER lab_report_no_{event.lower()} BEFORE {event} ON lab_report {refuse}"
        for event in ("UPDATE", "DELETE")
    ]
    return [
        *made,
        "CREATE TRIGGER lab_report_no_replace BEFORE INSERT ON lab_report "
        f"WHEN EXISTS (SELECT 1 FROM lab_report WHERE id = NEW.id) {refuse}",
    ]


def _postgres() -> list[str]:
    refuse = f"EXECUTE FUNCTION cowlnote_refuse('{SAYS}')"
    return [
        f"CREATE TRIGGER lab_report_no_{event.lower()} BEFORE {event} ON lab_report "
        f"FOR EACH {'STATEMENT' if event == 'TRUNCATE' else 'ROW'} {refuse}"
        for event in ("UPDATE", "DELETE", "TRUNCATE")
    ]
