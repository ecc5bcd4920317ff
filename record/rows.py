"""A draft to the columns of its row and back, nothing lost."""

from __future__ import annotations

import json
from typing import Any

from extract.values.draft import Draft
from record.tables import DraftRow
from record.values import (
    dump,
    dump_alternatives,
    dump_evidence,
    dump_quad,
    iso,
    load_alternatives,
    load_evidence,
    load_quad,
    moment,
    name_now,
    pack,
    position,
    unpack,
)


def columns(draft: Draft) -> dict[str, Any]:
    """Give the columns of a draft's row, nothing lost."""
    kind, value = pack(draft.value)
    return {
        "name": draft.name,
        "position": dump(draft.position),
        "kind": kind,
        "value": value,
        "unit": draft.unit,
        "said": draft.said,
        "media": draft.media,
        "start_s": draft.start,
        "end_s": draft.end,
        "said_at": iso(draft.said_at),
        "heard": draft.heard,
        "confidence": draft.confidence,
        "doubts": dump(draft.doubts),
        "alternatives": dump_alternatives(draft.alternatives),
        "quad": dump_quad(draft.quad),
        "also": dump_evidence(draft.also),
    }


def draft_of(row: DraftRow) -> Draft:
    """Read a draft back from a row."""
    return Draft(
        name_now(row.name),
        unpack(row.kind, row.value),
        row.unit,
        position(row.position),
        row.media,
        row.start_s,
        row.end_s,
        moment(row.said_at),
        row.heard,
        row.confidence,
        tuple(json.loads(row.doubts)),
        load_alternatives(row.alternatives),
        load_quad(row.quad),
        load_evidence(row.also),
        row.said,
    )
