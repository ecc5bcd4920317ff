"""What the trained reader proposes of numbers, codes, grades and dates.

Each proposal is one value for one field and place at some words. It is not believed for itself:
`extract.claims.weighing` says how likely it is to be right.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from extract.claims.encoder import CUT, REPLACED, THING, Told
from extract.claims.places import places_of, position, torn
from extract.claims.unsaid import unsaid
from extract.exact.again import AGAIN
from extract.exact.fitted import Fitted, fitted
from extract.exact.reading import Candidate
from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Alternative, Position, Value

_WORTH_SAYING = 0.08  # a field less likely than this is not proposed
_SECOND = 0.25
_AGAIN = 0.5  # from here on a number is taken for the same thing said once more
_HARDLY = 0.02  # a number less likely of the same thing says nothing of it
_BACK = 0.3  # from here on a number is shown as one that was replaced
_LEAST_WHOLE = 100  # hours
_NEVER = 1e-4
NO_TENTHS = "no tenths were said"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A value proposed for a field: the parts from `start` up to `end` say it.

    `by_model` is the likelihood that the trained reader gives it, `signs` are what speaks for and
    against it, `candidate` is its number among the candidates, None for a state; `must_be_named` is
    that of its field.
    """

    name: str
    value: Value
    unit: str | None
    position: Position
    start: int
    end: int
    by_model: float
    candidate: int | None = None
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    signs: dict[str, float] = field(default_factory=dict)
    must_be_named: bool = False

    @property
    def key(self) -> tuple[str, Position]:
        """Give the field and place that it is for."""
        return self.name, self.position


def chosen(candidates: Sequence[Candidate], told: Told) -> list[int]:
    """Give the candidates that cut the words best, none overlapping another."""
    cut = told.names["out"].index(CUT)
    order = sorted(
        range(len(candidates)),
        key=lambda n: (
            round(float(told.out[n][cut]), 2),
            candidates[n].start - candidates[n].end,
            candidates[n].start,
        ),
    )
    taken: set[int] = set()
    made = []
    for n in order:
        span = set(range(candidates[n].start, candidates[n].end))
        if not span & taken:
            taken |= span
            made.append(n)
    return sorted(made, key=lambda n: candidates[n].start)


def of_values(
    doc: Any, catalogue: Catalogue, year: int | None, named: Collection[str]
) -> Iterator[Proposal]:
    """Propose numbers, codes, grades and dates; `named` are the fields that the words name."""
    told, candidates = doc._.told, doc._.candidates
    cut = chosen(candidates, told)
    said_of: dict[tuple[int, str], tuple[Value, ...] | None] = {}
    for n in cut:
        for name in _likeliest(told, n, catalogue):
            entry, one = catalogue.fields[name], candidates[n]
            others = list(_others(doc, cut, n, entry, said_of))
            fits = _preferred(fitted(one, entry, year), others)
            if fits and _is_reading(entry, fits[0]):
                near = [candidates[k] for k in cut]
                said = places_of(doc._.parts, told, n, near, one, entry)
                more = {"named": float(name in named), **_beside(fits, one, others)}
                doubts, meant = unsaid(
                    doc._.parts, near, one, said, _gone(told, cut, n, entry), fits[0], entry
                )
                for made in _for_field(told, n, one, entry, fits, said, more):
                    beside = (*made.alternatives, *meant)
                    yield replace(made, doubts=(*made.doubts, *doubts), alternatives=beside)


def _gone(told: Told, cut: Sequence[int], n: int, entry: Field) -> list[bool]:
    """Say of each candidate of a cut whether number `n` replaces it, or anything does.

    Only a field with places asks.
    """
    if not entry.positions:
        return []
    back = list(told.names["out"]).index(REPLACED)
    return [max(told.point[m, n + 1], told.out[m, back]) >= _BACK for m in cut]


def _likeliest(told: Told, n: int, catalogue: Catalogue) -> list[str]:
    """Give the fields that the trained reader would say, the likeliest first."""
    outs = told.names["out"]
    order = sorted(
        ((float(p), out) for p, out in zip(told.out[n], outs, strict=True)), reverse=True
    )
    fields = [(p, out) for p, out in order if out in catalogue.fields]
    return [
        out for rank, (p, out) in enumerate(fields[:2]) if p >= (_SECOND if rank else _WORTH_SAYING)
    ]


def _for_field(
    told: Told,
    n: int,
    one: Candidate,
    entry: Field,
    fits: Sequence[Fitted],
    places: tuple[Position, ...],
    more: Mapping[str, float],
) -> Iterator[Proposal]:
    """Propose one candidate for a field, at each of the places that it is said of."""
    chance = float(told.out[n][list(told.names["out"]).index(entry.name)])
    against = torn(told, n, places, entry)
    values = [fit.value for fit in fits]
    others = tuple(Alternative(v, 0.3, "the words can be read so as well") for v in values[1:])
    for place in places:
        inside = fits[0].reading.place
        if place is None and inside in entry.positions:
            place = inside  # "two seventy-five" on a list of cylinders
        signs = _signs(told, n, chance, entry, fits)
        signs |= {
            **more,
            "placed": float(bool(entry.positions) and place is not None),
            "unplaced": float(bool(entry.positions) and place is None),
            "place_torn": against,
        }
        yield Proposal(
            entry.name, values[0], entry.unit, place, one.start, one.end, chance, n,
            tuple(_doubts(entry, fits[0], named=more["named"] > 0)), others, signs,
            entry.must_be_named,
        )  # fmt: skip


def _signs(
    told: Told, n: int, chance: float, entry: Field, fits: Sequence[Fitted]
) -> dict[str, float]:
    outs = list(told.names["out"])
    return {
        "odds": logit(chance),
        "replaced": float(told.out[n][outs.index(REPLACED)]),
        "cut": float(told.out[n][outs.index(CUT)]),
        "supposed": float(bool(fits[0].supposed)),
        "several": float(len(fits) > 1),
        "unsaid": float("point" in fits[0].supposed),
        "first": float(chance >= max(told.out[n])),
        "implausible": float(not _plausible(entry, fits[0].value)),
    }


@dataclass(frozen=True, slots=True)
class _Other:
    """Another number of the note: where it starts, its values, how likely it is of the same thing.

    What is a limit, a plan, of another aircraft or the like is hardly of it: `weight` is low.
    """

    start: int
    values: tuple[Value, ...]
    weight: float


def _others(
    doc: Any,
    cut: Sequence[int],
    n: int,
    entry: Field,
    said_of: dict[tuple[int, str], tuple[Value, ...] | None],
) -> Iterator[_Other]:
    """Give the other numbers that may be of the field and place of candidate number `n`.

    `said_of` keeps what each candidate can be of each field, so that it is worked out once a note.
    """
    told, candidates = doc._.told, doc._.candidates
    fields, outs = list(told.names["field"]), list(told.names["out"])
    reasons = [k for k, out in enumerate(outs) if out not in (*fields, CUT, THING)]
    of_it = told.field[:, fields.index(entry.name)] * (1 - told.out[:, reasons].sum(1))
    if entry.positions:
        of_it = of_it * (told.place @ told.place[n])
    for m in cut:
        if m == n or of_it[m] < _HARDLY:
            continue
        if (key := (m, entry.name)) not in said_of:
            fits = fitted(candidates[m], entry)
            values = tuple(fit.value for fit in fits if fit.reading.how not in AGAIN)
            said_of[key] = values if fits else None
        if (found := said_of[key]) is not None:
            yield _Other(candidates[m].start, found, float(of_it[m]))


def _beside(fits: Sequence[Fitted], one: Candidate, others: Sequence[_Other]) -> dict[str, float]:
    """Give what others say of a value: `contested` by one behind it that differs, or `echoed`."""
    value = fits[0].value
    behind = [o.weight for o in others if o.start > one.start and value not in o.values]
    return {"contested": max(behind, default=0.0), "echoed": _echo(fits[0], others)}


def _echo(fit: Fitted, others: Sequence[_Other]) -> float:
    return max((o.weight for o in others if fit.value in o.values), default=0.0)


def _preferred(fits: Sequence[Fitted], others: Sequence[_Other]) -> Sequence[Fitted]:
    """Put the value first that the note says once more: *six, and a half. So six and a half*."""
    likeliest = max(fits, key=lambda fit: _echo(fit, others), default=None)
    if likeliest is None or _echo(likeliest, others) < _AGAIN or _echo(fits[0], others) >= _AGAIN:
        return fits
    return [likeliest, *(fit for fit in fits if fit is not likeliest)]


def replaced(
    candidates: Sequence[Candidate], told: Told, catalogue: Catalogue, year: int | None
) -> Iterator[tuple[tuple[str, Position], int, Value]]:
    """Give (field and place), first part and value of what was said and then replaced."""
    back = told.names["out"].index(REPLACED)
    for n in chosen(candidates, told):
        entry = catalogue.fields.get(told.names["field"][int(told.field[n].argmax())])
        if entry is None or told.out[n][back] < _BACK:
            continue
        place = position(told.names["place"][int(told.place[n].argmax())], entry)
        for fit in fitted(candidates[n], entry, year)[:1]:
            yield (entry.name, place), candidates[n].start, fit.value


def _is_reading(entry: Field, fit: Fitted) -> bool:
    """Say whether a value can be one of its meter: two figures without tenths are no reading."""
    if entry.decimals != 1 or not isinstance(fit.value, Decimal):
        return True
    tenths = "." in fit.reading.digits or bool(fit.supposed)
    return _plausible(entry, fit.value) and (tenths or fit.value >= _LEAST_WHOLE)


def _plausible(entry: Field, value: Value) -> bool:
    return entry.kind != "number" or entry.plausible(value)  # type: ignore[arg-type]


def _doubts(entry: Field, fit: Fitted, *, named: bool) -> Iterator[str]:
    """Give what the words leave open about a value."""
    shown = entry.kind_object.show(fit.value, entry.unit)
    if fit.supposed:
        yield f"{fit.supposed}: read as {shown}"
    elif entry.decimals == 1 and "." not in fit.reading.digits:
        yield NO_TENTHS
    if entry.must_be_named and not named:
        yield f"it was not said clearly that this is the {entry.label}"
    if fit.reading.doubt:
        yield fit.reading.doubt
    if not _plausible(entry, fit.value):
        yield f"{shown} is out of the ordinary"


def logit(chance: float) -> float:
    """Give the log-odds of a chance, held within what a fit can use."""
    held = min(1 - _NEVER, max(_NEVER, chance))
    return math.log(held / (1 - held))
