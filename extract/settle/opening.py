"""A memo that begins by putting right what the one before it said."""

from __future__ import annotations

from typing import Any

from extract.talk.outline import VALUES

NEAR = 2  # words between what opens a correction and the value that it gives


def takes_up(doc: Any) -> bool:
    """Tell whether a read memo begins with a correction and its value, or takes back what was said.

    `doc` is what `extract.read.statements_of` gives. *negative, seventeen* is nothing by itself;
    behind *torqued to seventy* it is a torque. *no leaks* begins with no correction.
    """
    slots, judged = doc._.outline, doc._.judged
    if any(cue.start <= 1 for cue in judged.withdrawals):
        return True
    ends = [cue.end for cue in judged.corrections if cue.start <= 1]
    return any(slot.norm in VALUES for end in ends for slot in slots[end : end + NEAR])
