"""What the trained reader says of a number, held to what can be: no other cut, no foreign unit."""

from __future__ import annotations

from collections.abc import Sequence

from extract.claims.encoder import CUT, Told
from extract.exact.fitted import FOREIGN, fitted
from extract.exact.reading import Candidate
from extract.values.catalogue import Catalogue

_WORTH_A_LOOK = 0.05
_LEAST = 1e-6


def hold_to_words(told: Told, candidates: Sequence[Candidate], catalogue: Catalogue) -> None:
    """Take likelihood from what cannot be, in place, and give it to what can.

    That another candidate has the same number right cannot be where none overlaps it; a number
    said in turns to the inch is no torque, where another field that it may be has that unit.
    """
    cut = list(told.names["out"]).index(CUT)
    for n, one in enumerate(candidates):
        row = told.out[n]
        lone = not any(o is not one and o.start < one.end and one.start < o.end for o in candidates)
        rest = row.copy()
        rest[cut] = 0
        if lone and told.names["out"][int(rest.argmax())] in catalogue.fields:
            row[:] = rest
            row /= max(row.sum(), _LEAST)
        fields = [
            k
            for k, name in enumerate(told.names["out"])
            if row[k] >= _WORTH_A_LOOK and name in catalogue.fields
        ]
        foreign = [k for k in fields if _is_foreign(one, told.names["out"][k], catalogue)]
        fitting = [k for k in fields if k not in foreign]
        if foreign and fitting:
            row[fitting] *= 1 + row[foreign].sum() / row[fitting].sum()
            row[foreign] = 0


def _is_foreign(one: Candidate, name: str, catalogue: Catalogue) -> bool:
    fits = fitted(one, catalogue.fields[name])
    return bool(fits) and fits[0].supposed.endswith(FOREIGN)
