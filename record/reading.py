"""Rows as they lie in the database, as plain mappings, for whoever proves them."""

from __future__ import annotations

from collections.abc import Iterator

from sqlmodel import Session, SQLModel, select

from record.seals import Row

AT_ONCE = 500


class SessionRows:
    """The rows of the record that a session sees, with what it has changed so far."""

    def __init__(self, session: Session) -> None:
        session.flush()
        self._session = session

    def rows(self, table: str) -> Iterator[Row]:
        """Give the rows of a table in the order of their numbers."""
        columns = SQLModel.metadata.tables[table].columns
        query = select(*columns).order_by(columns["id"])
        found = self._session.connection().execute(query)
        for row in found.mappings().yield_per(AT_ONCE):
            yield dict(row)
