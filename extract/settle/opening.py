"""A memo that begins by putting right what the one before it said."""

from __future__ import annotations

from typing import Any

from extract.talk.outline import VALUES
from extract.words.lists import table

NEAR = 2  # words between what opens a correction and the value that it gives


def takes_up(doc: Any) -> bool:
    """Tell whether a read memo begins with a correction and its value, or takes back what was said.

    `doc` is what `extract.read.statements_of` gives. *negative, seventeen* is nothing by itself;
    behind *torqued to seventy* it is a torque. *no leaks* begins with no correction.
    """
    elements = doc._.outline
    norms = [element.norm for element in elements]
    for start in (0, 1):
        for kind in ("withdrawal", "correction"):
            for row in table("assertions")[kind]:
                words = row.split()
                end = start + len(words)
                if norms[start:end] != words:
                    continue
                if kind == "withdrawal" or any(
                    s.norm in VALUES for s in elements[end : end + NEAR]
                ):
                    return True
    return False
