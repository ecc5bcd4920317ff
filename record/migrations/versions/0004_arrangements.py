"""Where memos, photos and jobs belong, as people say it: chained, and only ever added to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

# ruff: noqa: S608 (the statements are made of the constants below)
SAYS = "what was arranged is only ever added to"
FROZEN = "the job is closed; a later correction is a new entry"


def upgrade() -> None:
    """Make the table and its guards, and the columns in which what it says is in force."""
    none, no = sa.text("''"), sa.false()
    op.add_column("job", sa.Column("offered", sa.String(), nullable=False, server_default=none))
    op.add_column("job", sa.Column("aside", sa.Boolean(), nullable=False, server_default=no))
    op.add_column("media", sa.Column("aside", sa.Boolean(), nullable=False, server_default=no))
    op.create_table(
        "arrangement",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("job_id", sa.Integer(), sa.ForeignKey("job.id"), nullable=False, index=True),
        sa.Column("media_id", sa.Integer(), sa.ForeignKey("media.id"), index=True),
        *(
            sa.Column(name, sa.String(), nullable=False)
            for name in ("action", "was", "becomes", "by", "at", "because", "prev", "hash")
        ),
    )
    postgres = op.get_bind().dialect.name == "postgresql"
    for statement in _postgres() if postgres else _sqlite():
        op.execute(sa.text(statement))


def _sqlite() -> list[str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, 'refused: {SAYS}'); END"
    frozen = f"BEGIN SELECT RAISE(ABORT, 'refused: {FROZEN}'); END"
    made = [
        f"CREATE TRIGGER arrangement_no_{event.lower()} BEFORE {event} ON arrangement {refuse}"
        for event in ("UPDATE", "DELETE")
    ]
    return [
        *made,
        "CREATE TRIGGER arrangement_no_replace BEFORE INSERT ON arrangement "
        f"WHEN EXISTS (SELECT 1 FROM arrangement WHERE id = NEW.id) {refuse}",
        "CREATE TRIGGER arrangement_no_insert BEFORE INSERT ON arrangement "
        f"WHEN (SELECT closed_at FROM job WHERE id = NEW.job_id) IS NOT NULL {frozen}",
    ]


def _postgres() -> list[str]:
    refuse = f"EXECUTE FUNCTION cowlnote_refuse('{SAYS}')"
    made = [
        f"CREATE TRIGGER arrangement_no_{event.lower()} BEFORE {event} ON arrangement "
        f"FOR EACH {'STATEMENT' if event == 'TRUNCATE' else 'ROW'} {refuse}"
        for event in ("UPDATE", "DELETE", "TRUNCATE")
    ]
    return [
        *made,
        "CREATE TRIGGER arrangement_no_insert BEFORE INSERT ON arrangement FOR EACH ROW "
        "WHEN (cowlnote_closed(NEW.job_id)) "
        f"EXECUTE FUNCTION cowlnote_refuse('{FROZEN}')",
    ]
