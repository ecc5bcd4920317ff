"""The value and unit as said beside the converted one; `hobbs_time` becomes `hour_meter_time`.

A decided draft and an entry are sealed by the chain, so their rows keep the name they were written
with and are read under the new one (`record.values.name_now`).
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column for what was said; give drafts that still wait the field's new name."""
    for table in ("draft", "entry"):
        op.add_column(table, sa.Column("said", sa.String(), nullable=True))
    op.execute(
        sa.text(
            "UPDATE draft SET name = 'hour_meter_time' "
            "WHERE name = 'hobbs_time' AND state = 'waiting'"
        )
    )
