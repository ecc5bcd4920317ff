"""A signed page may be kept with a job that is closed: its decision is `attach`."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

# ruff: noqa: S608 (the statements are made of the constants below)
FROZEN = "the job is closed; a later correction is a new entry"
LATER = "NEW.action NOT IN ('correct', 'withdraw', 'late', 'attach')"


def upgrade() -> None:
    """Put the guard of decisions anew, with one act more that a closed job still takes."""
    if op.get_bind().dialect.name == "postgresql":
        statements = [
            "DROP TRIGGER decision_no_insert ON decision",
            "CREATE TRIGGER decision_no_insert BEFORE INSERT ON decision FOR EACH ROW "
            f"WHEN ({LATER} AND cowlnote_closed(NEW.job_id)) "
            f"EXECUTE FUNCTION cowlnote_refuse('{FROZEN}')",
        ]
    else:
        statements = [
            "DROP TRIGGER decision_no_insert",
            "CREATE TRIGGER decision_no_insert BEFORE INSERT ON decision "
            f"WHEN {LATER} AND (SELECT closed_at FROM job WHERE id = NEW.job_id) IS NOT NULL "
            f"BEGIN SELECT RAISE(ABORT, 'refused: {FROZEN}'); END",
        ]
    for statement in statements:
        op.execute(sa.text(statement))
