"""Run the steps on the connection that the store hands over, inside its transaction."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

import record.tables  # noqa: F401  (fills the metadata)

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
