"""The journal, which seals every row; the evidence of a decision by its hashes.

What the record holds already is sealed as it is found, by `Store.open`, in the same transaction.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

SAYS = "the journal is only ever added to"


def upgrade() -> None:
    """Make the table and its guards, and the column of the evidence."""
    op.add_column("decision", sa.Column("evidence", sa.String()))
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("what", sa.String(), nullable=False, index=True),
        sa.Column("acts", sa.Text(), nullable=False),
        sa.Column("seals", sa.Text(), nullable=False),
        sa.Column("links", sa.Integer(), nullable=False),
        sa.Column("link_hash", sa.String(), nullable=False),
        sa.Column("reports", sa.Integer(), nullable=False),
        sa.Column("report_hash", sa.String(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("at", "prev", "hash")),
    )
    postgres = op.get_bind().dialect.name == "postgresql"
    for statement in _postgres() if postgres else _sqlite():
        op.execute(sa.text(statement))


def _sqlite() -> list[str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, 'refused: {SAYS}'); END"
    made = [
        f"CREATE TRIGGER event_no_{event.lower()} BEFORE {event} ON event {refuse}"
        for event in ("UPDATE", "DELETE")
    ]
    replace = "WHEN EXISTS (SELECT 1 FROM event WHERE id = NEW.id)"
    return [*made, f"CREATE TRIGGER event_no_replace BEFORE INSERT ON event {replace} {refuse}"]


def _postgres() -> list[str]:
    return [
        f"CREATE TRIGGER event_no_{event.lower()} BEFORE {event} ON event "
        f"FOR EACH {'STATEMENT' if event == 'TRUNCATE' else 'ROW'} "
        f"EXECUTE FUNCTION cowlnote_refuse('{SAYS}')"
        for event in ("UPDATE", "DELETE", "TRUNCATE")
    ]
