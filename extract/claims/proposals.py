"""What the two readers propose, side by side: the trained one (`encoder`) and the rules.

Each proposal is one value for one field and place at some words, with who proposes it. Neither
reader is believed for itself; `extract.claims.weighing` says what the two are worth together.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from extract.claims.encoder import CUT, REPLACED, Told
from extract.exact.fitted import Fitted, fitted
from extract.exact.reading import Candidate
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.doubts import Unnamed
from extract.values.draft import Alternative, Position, Value

_WORTH_SAYING = 0.08  # a field less likely than this is not proposed by the trained reader alone
_SECOND = 0.25
_BACK = 0.3  # from here on a number is shown as one that was replaced
_NEVER = 1e-4


@dataclass(frozen=True, slots=True)
class Proposal:
    """A value proposed for a field: the parts from `start` up to `end` say it.

    `from_part` is the first part of the words that state it. `by_rules` is the rules' statement of
    it, `by_model` the likelihood that the trained reader gives it. `signs` are what speaks for and
    against it, `candidate` is its number among the candidates, None for a state.
    """

    name: str
    value: Value
    unit: str | None
    position: Position
    start: int
    end: int
    from_part: int
    by_model: float
    by_rules: Statement | None = None
    candidate: int | None = None
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    signs: dict[str, float] = field(default_factory=dict)

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
    doc: Any,
    candidates: Sequence[Candidate],
    told: Told,
    ruled: Sequence[Statement],
    catalogue: Catalogue,
    year: int | None,
    named: Container[str],
) -> Iterator[Proposal]:
    """Propose numbers, codes, grades and dates.

    `ruled` are the rules' statements of such, `named` the fields that some words of the note name.
    """
    slots = doc._.outline
    cut = chosen(candidates, told)
    for n in cut:
        mine = [
            s
            for s in ruled
            if slots[s.slot].start < candidates[n].end and candidates[n].start < slots[s.slot].end
        ]
        barred = any(
            slots[i].start < candidates[n].end and candidates[n].start < slots[i].end
            for i in doc._.barred
        )
        names = dict.fromkeys([*_likeliest(told, n, catalogue), *(s.name for s in mine)])
        for name in names:
            yield from _for_field(
                doc,
                candidates[n],
                n,
                told,
                mine,
                catalogue.fields[name],
                year,
                barred,
                name in named,
            )


def _likeliest(told: Told, n: int, catalogue: Catalogue) -> list[str]:
    """Give the fields that the trained reader would say, the likeliest first."""
    outs = told.names["out"]
    named = sorted(
        ((float(p), out) for p, out in zip(told.out[n], outs, strict=True)), reverse=True
    )
    fields = [(p, out) for p, out in named if out in catalogue.fields]
    return [
        out for rank, (p, out) in enumerate(fields[:2]) if p >= (_SECOND if rank else _WORTH_SAYING)
    ]


def _for_field(
    doc: Any,
    candidate: Candidate,
    n: int,
    told: Told,
    mine: Sequence[Statement],
    entry: Field,
    year: int | None,
    barred: bool,
    named: bool,
) -> Iterator[Proposal]:
    fits = fitted(candidate, entry, year)
    ruled = [s for s in mine if s.name == entry.name]
    outs = list(told.names["out"])
    chance = float(told.out[n][outs.index(entry.name)]) if entry.name in outs else 0.0
    for position, one in _places(told, n, entry, ruled):
        inside = fits[0].reading.place if fits else 0
        if position is None and inside in entry.positions:
            position = inside  # "two seventy-five" on a list of cylinders
        values: list[Value] = [fit.value for fit in fits]
        if not values:
            if one is None:
                continue
            values = [one.value]
        value = values[0]
        if one is not None and entry.decimals == 1 and str(one.value).endswith(str(value)):
            value = (
                one.value
            )  # "twenty-five, thirty-one, point two": its beginning came before a pause
        agreed = one is not None and _alike(entry, one.value, value)
        others = values[1:]
        if one is not None and not agreed and not any(_alike(entry, one.value, v) for v in others):
            others.append(one.value)
        supposed = fits[0].supposed if fits else ""
        slots = doc._.outline
        yield Proposal(
            entry.name,
            value,
            entry.unit,
            position,
            candidate.start,
            candidate.end,
            min(slots[one.first].start, candidate.start) if one else candidate.start,
            chance,
            one,
            n,
            _doubts(entry, fits, one, agreed, named),
            (
                *(Alternative(v, 0.3, "the words can be read so as well") for v in others),
                *(_besides(entry, one, [value, *others]) if one is not None else ()),
            ),
            {
                "odds": logit(chance),
                "replaced": float(told.out[n][outs.index(REPLACED)]),
                "cut": float(told.out[n][outs.index(CUT)]),
                "agree": float(one is not None),
                "rules_sure": (1 - one.signs.get("risk", 0.5)) if one else 0.0,
                "rules_other": float(bool(mine) and one is None),
                "barred": float(barred and not mine),
                "differ": float(one is not None and not agreed),
                "supposed": float(bool(supposed)),
                "several": float(len(values) > 1),
                "unsaid": float("point" in supposed),
                "placed": float(bool(entry.positions) and position is not None),
                "unplaced": float(bool(entry.positions) and position is None),
                "place_torn": _torn(told, n, position, entry),
                "first": float(chance >= max(told.out[n])),
                "implausible": float(not _plausible(entry, value)),
            },
        )


def _besides(entry: Field, one: Statement, shown: Sequence[Value]) -> Iterator[Alternative]:
    """Give the rules' other readings that are not shown yet."""
    for other in one.alternatives:
        if not any(_alike(entry, other.value, value) for value in shown):
            yield other


def replaced(
    candidates: Sequence[Candidate], told: Told, catalogue: Catalogue, year: int | None
) -> Iterator[tuple[tuple[str, Position], int, Value]]:
    """Give (field and place), first part and value of what was said and then replaced."""
    back = told.names["out"].index(REPLACED)
    for n in chosen(candidates, told):
        entry = catalogue.fields.get(told.names["field"][int(told.field[n].argmax())])
        if entry is None or told.out[n][back] < _BACK:
            continue
        place = _position(told.names["place"][int(told.place[n].argmax())], entry)
        for fit in fitted(candidates[n], entry, year)[:1]:
            yield (entry.name, place), candidates[n].start, fit.value


def _alike(entry: Field, a: Value, b: Value) -> bool:
    """Say whether two values are one, but for how a conversion was rounded."""
    if isinstance(a, Decimal) and isinstance(b, Decimal):
        return abs(a - b) <= entry.step / 10
    return entry.kind_object.same(a, b)


def _plausible(entry: Field, value: Value) -> bool:
    return entry.kind != "number" or entry.plausible(value)  # type: ignore[arg-type]


def _doubts(
    entry: Field, fits: Sequence[Fitted], one: Statement | None, agreed: bool, named: bool
) -> tuple[str, ...]:
    """Give what the words leave open about a value; that the rules had no cue is none of it."""
    made: list[str] = []
    if one is not None and agreed:
        made += [d for d in one.doubts if not named or not isinstance(d, Unnamed)]
    if fits and fits[0].supposed and not made:
        made.append(_supposed(entry, fits[0]))
    if one is not None and not agreed:
        made.append(f"it may be {entry.kind_object.show(one.value, entry.unit)} as well")
    if fits and not _plausible(entry, fits[0].value):
        shown = entry.kind_object.show(fits[0].value, entry.unit)
        made.append(f"{shown} is out of the ordinary")
    return tuple(dict.fromkeys(made))


def _supposed(entry: Field, fit: Fitted) -> str:
    shown = entry.kind_object.show(fit.value, entry.unit)
    return f"{fit.supposed}: read as {shown}"


def _places(
    told: Told, n: int, entry: Field, ruled: Sequence[Statement]
) -> Iterator[tuple[Position, Statement | None]]:
    """Give the places of a value, each with the rules' statement of it."""
    if not entry.positions:
        yield None, ruled[0] if ruled else None
        return
    if len(ruled) > 1:  # one value said of several places
        for one in ruled:
            yield one.position, one
        return
    names = told.names["place"]
    best = names[int(told.place[n].argmax())]
    place = _position(best, entry)
    if ruled and (place is None or ruled[0].position == place or told.place[n].max() < 0.7):
        place = ruled[0].position
    yield place, ruled[0] if ruled else None


def _position(name: str, entry: Field) -> Position:
    return next((p for p in entry.positions if str(p) == name), None)


def _torn(told: Told, n: int, position: Position, entry: Field) -> float:
    """Give how much speaks for another place than the one taken."""
    if not entry.positions:
        return 0.0
    names = list(told.names["place"])
    name = "" if position is None else str(position)
    return 1 - float(told.place[n][names.index(name)]) if name in names else 1.0


def logit(chance: float) -> float:
    """Give the log-odds of a chance, held within what a fit can use."""
    held = min(1 - _NEVER, max(_NEVER, chance))
    return math.log(held / (1 - held))


def moved(one: Statement, slot: int, first: int, last: int) -> Statement:
    """Give the same statement at other slots of a new outline."""
    return replace(one, slot=slot, first=first, last=last)
