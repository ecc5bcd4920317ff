"""Several hearings of one memo compared as values, never as text.

Every number, date, grade or code that any hearing has is an event with its time. Events of
different hearings that overlap in time are one spoken thing: its field is voted on by those that
bind it, its value by all that have one there. Two ways of one model repeat each other's errors, so
that votes are counted by model.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from extract.exact.fitted import fitted
from extract.exact.reading import Candidate
from extract.talk.outline import VALUES
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.defects import FINDINGS
from extract.values.draft import Position, Value

_STATE_GAP_S = 1.5
Key = tuple[str, Position]


@dataclass(frozen=True, slots=True)
class Event:
    """One hearing's version of a spoken thing.

    `statement` is what it states, None where it is bound to no field; `barred` says that the words
    around it make it a limit, a plan or the like, or that it was corrected away. `clean` is the
    least probability of its words; `rescued` says that a word of its statement was read back.
    """

    hearing: int
    model: str
    start_s: float
    end_s: float
    what: object
    statement: Statement | None
    barred: bool
    clean: float
    rescued: bool

    @property
    def key(self) -> Key | None:
        """Give the field and position it states."""
        return None if self.statement is None else (self.statement.name, self.statement.position)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the hearings say about one spoken thing: the event that speaks for it and the votes.

    `risk` is how likely the reading least at risk among its hearings is misread. `first` is the
    model whose hearing is shown, `models` are all that heard the memo, `field_models` those that
    bind it to this field, `value_models` those that have this value there, `other_values` the other
    values with the models that have them, `barred_models` those that take it for no statement.
    """

    event: Event
    first: str
    models: frozenset[str]
    field_models: frozenset[str]
    value_models: frozenset[str]
    barred_models: frozenset[str]
    other_values: tuple[tuple[Value, frozenset[str]], ...]
    other_fields: tuple[tuple[Key, frozenset[str]], ...]
    unmended_models: frozenset[str]
    hearings: int
    of_hearings: int
    clean: float
    risk: float


def events_of(doc: Any, hearing: int, model: str) -> tuple[list[Event], list[Event]]:
    """Give the events of one hearing: those with a value in an element, and those of a state."""
    values: list[Event] = []
    states: list[Event] = []
    bound: dict[int, list[Statement]] = {}
    for statement in doc._.statements:
        if doc._.outline[statement.element].norm in VALUES and "state" not in statement.signs:
            bound.setdefault(statement.element, []).append(statement)
        else:
            states.append(_event(doc, hearing, model, statement.first, statement.last, statement))
    for i, element in enumerate(doc._.outline):
        if element.norm in VALUES:
            stated: list[Statement | None] = [*bound.get(i, ())]
            values += [_event(doc, hearing, model, i, i, one) for one in stated or [None]]
    return values, states


def _event(
    doc: Any, hearing: int, model: str, first: int, last: int, statement: Statement | None
) -> Event:
    elements, parts, words = doc._.outline, doc._.parts, doc._.words
    a, b = parts[elements[first].start].word, parts[elements[last].end - 1].word
    rescued = False
    if statement is not None:
        span = range(elements[statement.first].start, elements[statement.last].end)
        rescued = any(parts[i].rescued for i in span)
    return Event(
        hearing,
        model,
        words[a].start_s,
        max(words[b].end_s, words[a].start_s + 0.05),
        elements[last].what,
        statement,
        first == last and first in doc._.barred,
        min(word.probability for word in words[a : b + 1]),
        rescued,
    )


def compare(
    docs: Sequence[tuple[Any, str]], catalogue: Catalogue, first: str = ""
) -> list[Verdict]:
    """Compare the hearings of a memo, each a (`Doc`, model); a verdict for each spoken thing.

    `first` is the model whose hearing is shown, if it is not that of the first of `docs`.
    """
    values: list[Event] = []
    states: list[Event] = []
    for n, (doc, model) in enumerate(docs):
        some, more = events_of(doc, n, model)
        values += some
        states += more
    heard = dict.fromkeys(model for _, model in docs)
    models = tuple(dict.fromkeys((first, *heard)) if first else heard)
    made = [
        verdict
        for group in _clusters(values, _overlap)
        for verdict in _verdicts(group, models, len(docs), catalogue)
    ]
    for name in {e.statement.name for e in states if e.statement}:
        mine = [e for e in states if e.statement and e.statement.name == name]
        # a state may be told over a pause; two findings told in a row stay two
        for group in _clusters(mine, _overlap if name in FINDINGS else _close):
            made += _verdicts(group, models, len(docs), catalogue)
    return sorted(made, key=lambda v: v.event.start_s)


def _clusters(events: Iterable[Event], together: Any) -> list[list[Event]]:
    groups: list[list[Event]] = []
    for event in sorted(events, key=lambda e: (e.start_s, e.hearing)):
        home = next((g for g in reversed(groups) if any(together(event, o) for o in g)), None)
        if home is None:
            groups.append([event])
        else:
            home.append(event)
    return groups


def _overlap(a: Event, b: Event) -> bool:
    if a.hearing == b.hearing:
        return a.start_s == b.start_s and a.end_s == b.end_s
    shared = min(a.end_s, b.end_s) - max(a.start_s, b.start_s)
    return shared >= 0.5 * min(a.end_s - a.start_s, b.end_s - b.start_s)


def _close(a: Event, b: Event) -> bool:
    return min(a.end_s, b.end_s) - max(a.start_s, b.start_s) > -_STATE_GAP_S


def _verdicts(
    group: list[Event], models: tuple[str, ...], hearings: int, catalogue: Catalogue
) -> Iterable[Verdict]:
    """Give the verdict on a group of events; several where one value is for several places."""
    bound = [e for e in group if e.statement is not None]
    if not bound:
        return
    names = Counter[str]()
    for name in {e.statement.name for e in bound if e.statement}:
        mine = [e for e in bound if e.statement and e.statement.name == name]
        score = max(e.statement.score for e in mine if e.statement)
        names[name] = 100 * len({e.model for e in mine}) + 10 * len(mine) + round(score)
    name = names.most_common(1)[0][0]
    mine = [e for e in bound if e.statement and e.statement.name == name]
    places = Counter(e.statement.position for e in mine if e.statement)
    one_hearing = max(Counter(e.hearing for e in mine).values())
    said: list[Position] = [p for p in places if p is not None] or [None]
    chosen = sorted(said, key=lambda p: -places[p])[:one_hearing]
    for place in chosen:
        yield _verdict(group, (name, place), models, hearings, catalogue)


def _verdict(
    group: list[Event], key: Key, models: tuple[str, ...], hearings: int, catalogue: Catalogue
) -> Verdict:
    field = catalogue.fields[key[0]]
    mine = [e for e in group if e.statement and e.statement.name == key[0]]
    votes = _votes(group, mine, field)
    bound_values = [v for v in votes if any(e in mine for e in v[1])]
    told = [v for v, _ in bound_values]
    value, best = max(
        bound_values,
        key=lambda v: (_can_be(field, v[0]), _is_whole(v[0], told), *_weight(v[1], mine)),
    )
    others = {e.key for e in group if e.key is not None and e.key != key}
    return Verdict(
        event=_speaker(best, mine, key, field, value),
        first=models[0],
        models=frozenset(models),
        field_models=_models(mine),
        value_models=_models(best),
        barred_models=_models(e for e in group if e.barred),
        other_values=tuple((v, _models(es)) for v, es in votes if v is not value),
        other_fields=tuple((k, _models(e for e in group if e.key == k)) for k in others),
        unmended_models=_models(e for e in best if e in mine and not e.rescued),
        hearings=len({e.hearing for e in best}),
        of_hearings=hearings,
        clean=max(e.clean for e in best),
        risk=min(1 - e.statement.chance for e in best if e in mine and e.statement),
    )


def _votes(group: list[Event], mine: list[Event], field: Field) -> list[tuple[Value, list[Event]]]:
    """Give each value that a group has for a field, with the events that have it."""
    length = max(e.end_s - e.start_s for e in mine)
    votes: list[tuple[Value, list[Event]]] = []
    whole = _in_pieces(group, mine)
    for event in group:
        value = _after_its_place(event, mine)
        if value is None:
            value = whole.get(event.hearing, _value(event, field))
        short = event.hearing not in whole and event.end_s - event.start_s < 0.6 * length
        piece = event not in mine and short
        if value is None or piece:
            continue
        same = next((v for v in votes if field.kind_object.same(v[0], value)), None)
        if same is None:
            votes.append((value, [event]))
        else:
            same[1].append(event)
    return votes


def _after_its_place(event: Event, mine: list[Event]) -> Value | None:
    """Give the value of *number one, seventy-four* for an unbound *number 174* of the same moment.

    A model that writes figures runs the two together. The figures are all there and in order, so it
    speaks for what the others heard; alone it states nothing.
    """
    if event in mine:
        return None
    for one in mine:
        place = one.statement.position if one.statement else None
        if isinstance(place, int) and _digits(event) == f"{place}{_digits(one)}":
            return one.statement.value if one.statement else None
    return None


def _in_pieces(group: list[Event], mine: list[Event]) -> dict[int, Value]:
    """Give the value of *3527.1* for each hearing that has it in pieces there, as *352-7.1*.

    All its figures, in order and with no other between, are those that another hearing took for one
    number: it speaks for that number, and its pieces are no other values.
    """
    told: dict[int, dict[int, str]] = {}  # by hearing, then by what was read there, in order
    for event in sorted(group, key=lambda e: e.start_s):
        told.setdefault(event.hearing, {})[id(event.what)] = _digits(event)
    found: dict[int, Value] = {}
    for hearing, pieces in told.items():
        joined = "".join(pieces.values())
        same = [e for e in mine if e.hearing != hearing and _digits(e) == joined]
        if len(pieces) > 1 and same and same[0].statement:
            found[hearing] = same[0].statement.value
    return found


def _digits(event: Event) -> str:
    return event.what.readings[0].digits if isinstance(event.what, Candidate) else "-"


def _speaker(best: list[Event], mine: list[Event], key: Key, field: Field, value: Value) -> Event:
    """Give the event that speaks for a value: none read back if possible, and of that place."""
    same = field.kind_object.same
    return min(
        (e for e in best if e in mine and e.statement and same(e.statement.value, value)),
        key=lambda e: (
            e.rescued,
            e.statement.position != key[1] if e.statement else True,
            e.hearing,
        ),
    )


def _models(events: Iterable[Event]) -> frozenset[str]:
    return frozenset(e.model for e in events)


def _can_be(field: Field, value: Value) -> bool:
    """Say whether a value is none that is out of the ordinary: *sixty* foot pounds on a filter."""
    return not isinstance(value, Decimal) or field.plausible(value)


def _is_whole(value: Value, others: Sequence[Value]) -> bool:
    """Say whether no other value has a figure twice that this one has once: *4433.8* and *433.8*.

    A model that writes word by word passes over a word that it has just written; seldom does it
    write one twice (in three places of 280 memos the longer was right, in none the shorter).
    """
    mine, once = str(value), _once(value)
    return not any(len(str(o)) > len(mine) and _once(o) == once for o in others)


def _once(value: Value) -> str:
    return re.sub(r"(\d)\1+", r"\1", str(value))


def _weight(events: list[Event], mine: list[Event]) -> tuple[int, int, int, int]:
    models = {e.model for e in events}
    bound = {e.model for e in events if e in mine}
    doubts = min((len(e.statement.doubts) for e in events if e.statement), default=9)
    return (len(models), len(bound), -doubts, len(events))


def _value(event: Event, field: Field) -> Value | None:
    """Give the value that an event has for a field, also where it is bound to none."""
    if event.statement is not None and event.statement.name == field.name:
        return event.statement.value
    if field.kind == "number" and isinstance(event.what, Candidate):
        unit = event.what.readings[0].unit
        fits = fitted(event.what, field)
        if fits and (unit is None or unit.name in field.units):
            return fits[0].value
    return None
