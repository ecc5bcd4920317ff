"""The two readers' statements of one note, over an outline cut as the trained reader cuts it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from extract.claims.encoder import Told, read
from extract.claims.kinds_of_oil import kinds_of_oil
from extract.claims.proposals import Proposal, chosen, moved, of_values, replaced
from extract.claims.recurring import alone, read_recurring
from extract.claims.renamed import renamed
from extract.claims.states import of_states, replaced_states
from extract.claims.trail import trail
from extract.claims.weighing import believed, in_order
from extract.exact.candidates import candidates
from extract.exact.digits import Number
from extract.exact.quantities import Quantity
from extract.exact.reading import Candidate
from extract.exact.spelled import Spelled
from extract.talk.outline import CODE, DATE, GRADE, NUMBER, OVER, VALUES, Slot
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue

RISKY = 0.5  # how likely misread a statement is that the rules alone do not make
_SYMBOLS = {"code": CODE, "grade": GRADE, "date": DATE}


def join(
    doc: Any, page: Page, ruled: Sequence[Statement], catalogue: Catalogue, year: int | None
) -> None:
    """Fill `doc._.statements`, `outline` and `barred` with what both readers state together.

    `ruled` are the statements of the rules over the outline that `doc` has, of
    which `page` holds the cues.
    """
    found = candidates(doc, catalogue)
    told = read(doc._.parts, found)
    slots = doc._.outline
    values = [s for s in ruled if slots[s.slot].norm in VALUES and "state" not in s.signs]
    states = [s for s in ruled if s not in values]
    proposals = [
        *of_values(doc, found, told, values, catalogue, year, named(page, catalogue)),
        *of_states(doc, told, states, catalogue),
    ]
    proposals = list(_renamed(proposals, page, slots, catalogue))
    gone = [*replaced(found, told, catalogue, year), *replaced_states(told, catalogue)]
    stated = in_order(list(believed(proposals, told, catalogue)), gone, told, catalogue)
    unknown = [s for s in ruled if not _was_shown(s, told, catalogue) and _is_likely(s)]
    own = read_recurring(doc._.parts, page, doc._.judged, found, catalogue, year)
    unknown = [*alone(unknown, own, slots)]
    held = [slots[i] for i in doc._.barred]
    outline = _outline(doc, [found[n] for n in chosen(found, told)])
    at = {k: n for n, slot in enumerate(outline) for k in range(slot.start, slot.end)}
    made = [_statement(p, chance, at, told) for p, chance in stated]
    made = [*alone(made, own, outline)]
    made += [_kept(s, slots, at) for s in (*unknown, *(one.statement for one in own))]
    made += kinds_of_oil(made, outline, doc._.parts, catalogue)
    doc._.proposed = tuple(proposals)
    doc._.outline = outline
    doc._.statements = tuple(sorted(made, key=lambda s: s.slot))
    used = {s.slot for s in made}
    loose = {n for n, slot in enumerate(outline) if slot.norm in VALUES and n not in used}
    barred = {at[slot.start] for slot in held if slot.start in at}
    doc._.barred = frozenset(barred - used | _refused(found, told, at, loose))


def _renamed(
    proposals: Sequence[Proposal], page: Page, slots: Sequence[Slot], catalogue: Catalogue
) -> Iterator[Proposal]:
    """Give a number that was said to be another meter's to that meter, with a doubt."""
    found = {slots[i].start: (old, new) for i, old, new in renamed(page, catalogue)}
    for one in proposals:
        inside = [found[k] for k in range(one.start, one.end) if k in found]
        if one.candidate is None or not inside:
            yield one
            continue
        old, new = inside[0]
        if one.name == old:
            label = catalogue.fields[old].label
            doubt = f"it was said to be the {label} first, then to be this"
            yield replace(one, name=new, doubts=(*one.doubts, doubt))


def named(page: Page, catalogue: Catalogue) -> frozenset[str]:
    """Give the fields whose thing or name some words of a note say."""
    said = {(c.owner, c.kind) for cues in page.cues for c in cues}
    topics = {owner for owner, kind in said if kind == "topic"}
    made = {owner for owner, kind in said if kind in ("names", "subjects", "heads", "frames")}
    made |= {n for n, f in catalogue.fields.items() if topics & set(f.cues.get("topics", ()))}
    return frozenset(made)


def _was_shown(one: Statement, told: Told, catalogue: Catalogue) -> bool:
    """Say whether the trained reader knows a field; what it never saw the rules read alone."""
    if catalogue.fields[one.name].kind in ("truth", "choice"):
        return any(name.split(" ")[0] == one.name for name in told.names["state"])
    return one.name in told.names["field"]


def _is_likely(one: Statement) -> bool:
    return one.signs.get("risk", 0.0) < RISKY


def _refused(
    found: Sequence[Candidate], told: Told, at: dict[int, int], loose: set[int]
) -> set[int]:
    """Give the slots of numbers that are no values: limits, plans and the like."""
    fields = set(told.names["field"])
    made = set()
    for n, c in enumerate(found):
        out = told.names["out"][int(told.out[n].argmax())]
        if out not in fields and out not in ("cut", "thing") and at[c.start] in loose:
            made.add(at[c.start])
    return made


def _outline(doc: Any, cut: Sequence[Candidate]) -> tuple[Slot, ...]:
    """Cut the words anew: each chosen candidate is one slot, what it does not touch stays."""
    old = {(slot.start, slot.end): slot for slot in doc._.outline}
    parts = doc._.parts
    starts = {c.start: c for c in cut}
    taken = {k for c in cut for k in range(c.start, c.end)}
    stays = {
        slot.start: slot for slot in doc._.outline if not taken & set(range(slot.start, slot.end))
    }
    made: list[Slot] = []
    at = 0
    while at < len(parts):
        if at in starts:
            c = starts[at]
            made.append(old.get((c.start, c.end)) or _slot(c, parts[c.end - 1].after))
        elif at in stays:
            made.append(stays[at])
        else:
            made.append(Slot(parts[at].norm, at, at + 1, parts[at].after))
        at = made[-1].end
    return tuple(made)


def _slot(candidate: Candidate, after: str) -> Slot:
    first = candidate.readings[0]
    start, end = candidate.start, candidate.end
    if first.kind == "number":
        number = Number(
            start, end, first.value, first.digits, "groups", first.over,  # type: ignore[arg-type]
            tuple((start, group) for group in first.groups),
        )  # fmt: skip
        symbol = NUMBER if first.over is None else OVER
        return Slot(symbol, start, end, after, Quantity(start, end, number, first.unit))
    value = first.value
    spelled = Spelled(first.kind, start, end, value, first.day, first.month)  # type: ignore[arg-type]
    return Slot(_SYMBOLS[first.kind], start, end, after, spelled)


def _statement(one: Proposal, chance: float, at: dict[int, int], told: Told) -> Statement:
    state = one.candidate is None
    first, last = at[one.from_part], at[max(one.start, one.end - 1)]
    signs = {"chance": chance, **({"state": 1.0} if state else {})}
    score = one.by_rules.score if one.by_rules else 4 * chance - 1
    return Statement(
        one.name, one.value, one.unit, one.position, at[one.start] if state else last,
        min(first, last), last, score, one.doubts, one.alternatives, signs,
        trail(one, told, chance),
    )  # fmt: skip


def _kept(one: Statement, slots: Sequence[Slot], at: dict[int, int]) -> Statement:
    first, last = at[slots[one.first].start], at[slots[one.last].end - 1]
    slot = at[slots[one.slot].start]
    kept = replace(moved(one, slot, min(first, last), last), trail=("rules: alone",))
    return kept.doubted("it is read by its words alone: no sentence with it was ever learnt from")
