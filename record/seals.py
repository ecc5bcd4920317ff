"""What a seal is made of: the SHA-256 of a row, by its table and its columns, as canonical JSON.

A seal is reckoned from the row as the database gives it, never from what was meant to be written;
so a damaged row has one too, only another. It knows no session: rows are plain mappings.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from record.values import dump

START = "0" * 64
# Columns of the chains that came after the first links were sealed: left out of the seal where
# they are null, so that the older form of a link keeps its hash.
CAME_LATER = ("said", "shown", "although", "evidence")
# Columns of the other sealed tables that came after the journal and are never null, with the value
# that older rows were given: such a value is left out, so that the rows keep their seals.
ADDED: Mapping[tuple[str, str], Any] = {}
Row = Mapping[str, Any]


def link_seal(table: str, row: Row) -> str:
    """Give the hash of a link of a chain: its table and all its columns but the hash itself.

    The columns that came later (`CAME_LATER`) are left out where they have no value.
    """
    content = {
        k: v for k, v in row.items() if k != "hash" and (v is not None or k not in CAME_LATER)
    }
    return _sha256({"table": table, **content})


def row_seal(table: str, row: Row) -> str:
    """Give the seal of a row that is no link: all its columns, without those that are null.

    To leave out null, or what `ADDED` names, says the same as to name it, and lets a column come
    later. Truths count as 0 and 1, since that is what some databases give.
    """
    kept = (k for k, v in row.items() if v is not None and ADDED.get((table, k), row) != v)
    content = {k: int(row[k]) if isinstance(row[k], bool) else row[k] for k in kept}
    return _sha256({"table": table, **content})


def unit_seal(seals: Sequence[str]) -> str | None:
    """Give the seal of rows that belong together: of one row its own, of none None."""
    if len(seals) > 1:
        return hashlib.sha256("\n".join(seals).encode()).hexdigest()
    return seals[0] if seals else None


def _sha256(content: Mapping[str, Any]) -> str:
    try:
        text = dump(content)
    except (TypeError, ValueError):  # bytes in a damaged row: no JSON, but no seal of a whole one
        text = repr(sorted(content.items(), key=lambda pair: pair[0]))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
