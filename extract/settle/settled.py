"""What a note states in the end: proposals weighed, put in order, held to the limits beside them.

What the trained reader was never shown is read by rules: a mechanic's own field by its cues, and
what recurs.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterator, Sequence
from typing import Any

from extract.claims.cues import doubtful, read_by_cues, said_not_done
from extract.claims.encoder import CUT, THING, Told
from extract.claims.held import Held, held
from extract.claims.kinds_of_oil import kinds_of_oil
from extract.claims.proposals import Proposal, chosen, replaced
from extract.claims.recurring import alone, read_recurring
from extract.claims.states import replaced_states
from extract.claims.trail import trail
from extract.claims.weighing import believed, level
from extract.exact.reading import Candidate
from extract.settle.limits import Limits
from extract.settle.order import in_order
from extract.settle.renamed import renamed
from extract.talk.outline import VALUES, Element
from extract.talk.statements import Statement
from extract.values.catalogue import RECURRING, Catalogue
from extract.values.defects import REMARK, finding_of
from extract.words.parts import heard, span_words


def settle(doc: Any, catalogue: Catalogue, year: int | None) -> None:
    """Fill `doc._.statements` and `barred`: the elements of numbers that are no values."""
    told, found, elements = doc._.told, doc._.candidates, doc._.outline
    gone = [*replaced(found, told, catalogue, year), *replaced_states(told, catalogue)]
    proposed = list(renamed(doc._.proposed, elements, catalogue))
    stated = in_order(list(believed(proposed, told, catalogue)), gone, told, catalogue)
    cut = [(n, found[n]) for n in chosen(found, told)]
    limits = Limits(doc._.parts, cut, told)
    note = held(elements, catalogue, ())
    made = [
        _of_another(note, statement_of(limits.held(one, catalogue.fields[one.name]), chance, doc))
        for one, chance in stated
    ]
    own = read_recurring(doc._.parts, elements, found, catalogue, year)
    cued = read_by_cues(elements, catalogue, never_shown(catalogue, told), year)
    made = [*alone([*made, *_free(cued, made)], own, elements)]
    made += [doubtful(one.statement) for one in own]
    made += _not_done(doc, catalogue, {s.name for s in made})
    made += kinds_of_oil(made, elements, doc._.parts, catalogue)
    doc._.statements = tuple(sorted(made, key=lambda s: s.element))
    used = {s.element for s in made}
    loose = {n for n, element in enumerate(elements) if element.norm in VALUES and n not in used}
    doc._.barred = frozenset(_refused(cut, told, elements, loose))


def _of_another(note: Held, statement: Statement) -> Statement:
    """Doubt a number whose clause names another kind of aircraft, or another day."""
    if "state" in statement.signs:
        return statement  # held to its words when it was proposed
    return statement.doubted(*note.apart((statement.element, statement.element + 1)))


def never_shown(catalogue: Catalogue, told: Told) -> frozenset[str]:
    """Give the fields that the trained reader does not know; what recurs is read by its own."""
    known = {name.split(" ")[0] for name in (*told.names["state"], *told.names["field"])}
    return frozenset(catalogue.fields) - known - set(RECURRING)


def _free(cued: Collection[Any], made: Sequence[Statement]) -> Iterator[Statement]:
    """Give what was read by cues of numbers that the trained reader takes for nothing it knows."""
    used = {s.element for s in made if "state" not in s.signs}
    for one in cued:
        if one.statement.element not in used:
            yield doubtful(one.statement)


def statement_of(one: Proposal, chance: float, doc: Any) -> Statement:
    """Give the statement that a proposal makes over the outline of a `Doc`."""
    state = one.candidate is None
    first, last = element_at(doc, one.start), element_at(doc, max(one.start, one.end - 1))
    signs = {"chance": chance, **({"state": 1.0} if state else {})}
    return Statement(
        one.name, one.value, one.unit, one.position, first if state else last, first, last,
        4 * chance - 1, one.doubts, one.alternatives, signs, trail(one, doc._.told, chance),
    )  # fmt: skip


def _not_done(doc: Any, catalogue: Catalogue, stated: Collection[str]) -> Iterator[Statement]:
    """Keep what was said not to be done as a remark in the speaker's words: it is no value."""
    told: set[str] = set()
    for cue, entry in said_not_done(doc._.outline, catalogue, stated):
        if entry.name in told:
            continue
        told.add(entry.name)
        start, end = doc._.outline[cue.start].start, doc._.outline[cue.end - 1].end
        first, last = span_words(doc._.parts, start, end)
        words = heard(doc._.words[first : last + 1])
        signs = {"chance": level("said_not_done"), "state": 1.0}
        made = Statement(
            REMARK, finding_of(f"said not done: {words}"), None, None, cue.start, cue.start,
            cue.end - 1, 0.0, (), (), signs, ("rules: said not done",),
        )  # fmt: skip
        yield made.doubted(f"the {entry.label} was due and was said not to be done")


def element_at(doc: Any, part: int) -> int:
    """Give the element of a `Doc`'s outline that a part stands in."""
    return bisect_right(doc._.outline, part, key=lambda element: element.start) - 1


def _refused(
    cut: Sequence[tuple[int, Candidate]],
    told: Told,
    elements: Sequence[Element],
    loose: Collection[int],
) -> Iterator[int]:
    """Give the elements of numbers that are no values: limits, plans and the like."""
    fields = set(told.names["field"])
    starts = {elements[i].start: i for i in loose}
    for n, one in cut:
        out = told.names["out"][int(told.out[n].argmax())]
        if out not in fields and out not in (CUT, THING) and one.start in starts:
            yield starts[one.start]
