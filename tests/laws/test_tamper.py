"""Of what the seal covers, every change is found, and none ends the check: the short form.

`python -m tests.laws.tamper` is the long one: every row, and 2,000 flipped bits of each kind.
"""

from __future__ import annotations

from tests.laws import tamper


def test_all_that_is_changed_under_the_seal_is_found():
    done = tamper.run(rows=1, each=1, many=25)
    assert done.missed == []
    assert done.crashed == []
    assert sum(done.made.values()) > 200
    assert done.found == done.made
