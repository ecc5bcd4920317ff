"""The words for what is decided, and what each of them does."""

from __future__ import annotations

import json
from typing import Any

STATES = {  # of a draft, by the last decision on it
    "confirm": "confirmed",
    "add": "confirmed",
    "amend": "amended",
    "reject": "rejected",
    "undo": "waiting",
    "late": "confirmed",
    "retract": "retracted",
}
ASIDE = "aside"  # of a draft that waited when what it was read from was moved or set aside
# decisions that make an entry: `reopen`, `defer`, `clear` of a defect, `attach` of a signed page
ENTERS = (
    *("confirm", "add", "amend", "late", "correct", "withdraw"),
    *("reopen", "defer", "clear", "attach"),
)
UNDOES = ("undo", "retract")  # decisions that take one back, as if it had never been
ABOUT = {"split": "move", "join": "move", "back": "aside"}  # arrangements that speak of one thing


def told(acts: object, act: str) -> list[dict[str, Any]]:
    """Give what an event's `acts` say of one act; nothing where they are damaged."""
    try:
        found = json.loads(acts) if isinstance(acts, str) else []
    except (ValueError, RecursionError):
        return []
    rows = found if isinstance(found, list) else []
    return [one for one in rows if isinstance(one, dict) and one.get("act") == act]
