"""States of things: yes or no (*the filter is safetied*) and one of a few words (*no leaks*)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from extract.claims.subjects import Owners, find_subject, subject_owners
from extract.talk.assertions import STATUSES, Judgement
from extract.talk.outline import Cue
from extract.talk.statements import Page, Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.draft import Alternative


def read_truths(page: Page, judged: Judgement, catalogue: Catalogue) -> tuple[Statement, ...]:
    """Read every state that a page declares."""
    made: list[Statement] = []
    owners = subject_owners(page, catalogue)
    for field in catalogue.fields.values():
        for n in range(len(page.bounds)):
            if field.kind == "truth":
                made += _truth(page, judged, field, n, owners)
            elif field.kind == "choice":
                made += _choice(page, judged, field, n)
    return tuple(made)


@dataclass(frozen=True, slots=True)
class Claim:
    """A state that words name: its cue, yes or no, how well they name it, the thing, if named.

    `bare` says that its verb is in base form: *did clean* or *forgot to clean*.
    """

    cue: Cue
    value: bool
    weight: float
    subject: Cue | None = None
    bare: bool = False


def claims(page: Page, field: Field, n: int, owners: Owners) -> list[Claim]:
    """Give the states of a field that a sentence names, whatever it says of them."""
    found: list[Claim] = []
    for cue in page.cues[n]:
        if cue.owner != field.name:
            continue
        if cue.kind in ("no", "passing"):
            found.append(Claim(cue, False, 2.5 if cue.kind == "no" else 1.0))
        elif cue.kind == "yes" and not _of_others(field, cue, owners):
            found.append(Claim(cue, True, 2.4))
        elif cue.kind in ("done", "undone", "act", "does"):
            acting = "does" in field.cues
            thing = find_subject(page, cue, n, owners, acting=acting)
            if thing is not None and field.name in thing[1]:
                weight, subject = (2.0, thing[0]) if thing[2] else (1.6, None)
                value, bare = cue.kind != "undone", cue.kind == "act"
                found.append(Claim(cue, value, weight, subject, bare))
    return _longest(found)


def _of_others(field: Field, cue: Cue, owners: Owners) -> bool:
    """Say whether a phrase names only things that are not the field's: *their cowl went on*."""
    inside = [fields for thing, fields in owners if cue.start <= thing.start < thing.end <= cue.end]
    return bool(inside) and not any(field.name in fields for fields in inside)


def _truth(
    page: Page, judged: Judgement, field: Field, n: int, owners: Owners
) -> Iterable[Statement]:
    unless = [c for c in page.cues[n] if c.owner == field.name and c.kind == "unless"]
    for claim in claims(page, field, n, owners):
        cue, subject = claim.cue, claim.subject
        first = min(cue.start, subject.start) if subject else cue.start
        last = max(cue.end, subject.end) if subject else cue.end
        if any(c.start < last and first < c.end for c in unless):
            continue
        value = _held(page, judged, claim)
        if value is None:
            continue
        made = stated(page, field, value, cue.start, first, last, claim.weight)
        yield (
            made.doubted("this may have held only for the moment")
            if cue.kind == "passing"
            else made
        )


def _held(page: Page, judged: Judgement, claim: Claim) -> bool | None:
    """Say whether a claim is made or denied, or neither: planned, asked, told of last time."""
    cue = claim.cue
    status = judged.statuses(cue.end - 1)
    no = judged.negated(cue.end - 1)
    if cue.kind == "no" and not judged.conditional(page.slots, cue.start):
        status -= {"plan"}  # "won't be taking a sample" says that none was taken
    if claim.bare:
        real = no or judged.realised(cue.start)
        if real is None:
            return None
        status = judged.statuses_by(real, cue.start)  # "did get to clean" is no plan
    if status & set(STATUSES):
        return None
    if cue.kind in ("no", "passing") or no is None:
        return claim.value
    inside = cue.start <= no.cue.start and no.cue.end <= cue.end
    if inside and cue.kind != "yes":
        return claim.value
    return None if cue.kind == "undone" else False


def _longest(found: list[Claim]) -> list[Claim]:
    """Drop what lies inside a longer cue; a *no* beats the *yes* that it contains or crosses."""
    return [
        claim
        for claim in found
        if not any(
            other.cue is not claim.cue
            and other.cue.start < claim.cue.end
            and claim.cue.start < other.cue.end
            and _beats(other.cue, claim.cue)
            for other in found
        )
    ]


def _beats(other: Cue, cue: Cue) -> bool:
    rank = {"no": 3, "undone": 2, "passing": 1, "yes": 1, "done": 1, "does": 1, "act": 0}
    a, b = rank[other.kind], rank[cue.kind]
    if a != b and {other.kind, cue.kind} & {"no", "undone", "act"}:
        return a > b
    size, mine = other.end - other.start, cue.end - cue.start
    return (size, -other.start, other.kind) > (mine, -cue.start, cue.kind)


def _choice(  # noqa: C901 - the order of the tests is the rule
    page: Page, judged: Judgement, field: Field, n: int
) -> Iterable[Statement]:
    here = [c for c in page.cues[n] if c.owner == field.name]
    if any(c.kind == "unless" for c in here):
        return
    elsewhere = frozenset(field.cues.get("elsewhere", ()))
    says = [c for c in here if c.kind.startswith("says:") and not elsewhere & page.topics[c.start]]
    topical = bool(set(field.cues.get("topics", ())) & page.topics[page.bounds[n][0]])
    if (
        not topical
        and field.cues.get("subjects")
        and not any(c.kind == "subjects" for c in here)
        and not (
            n and any(c.owner == field.name and c.kind == "subjects" for c in page.cues[n - 1])
        )
    ):
        return
    negative, good = field.choices[0], field.choices[0]
    positive: list[tuple[str, Cue]] = []
    negated: list[Cue] = []
    for cue in says:
        choice = cue.kind.removeprefix("says:")
        if judged.statuses(cue.start, cue.end) & set(STATUSES):
            continue
        if choice == good:
            negated.append(cue)
            continue
        if any(
            o is not cue and o.kind == f"says:{good}" and o.start < cue.end and cue.start < o.end
            for o in says
        ):
            continue
        if _checked(page, cue):
            continue
        if _denied(page, judged, cue):
            negated.append(cue)
        elif not cue.start or page.slots[cue.start - 1].norm != "any" or cue.literals > 1:
            positive.append((choice, cue))
    for cue in (c for c in here if c.kind == "faults"):
        over = {(c.start, c.end) for c in negated} | {(c.start, c.end) for _, c in positive}
        barred = over or _checked(page, cue) or judged.statuses(cue.start, cue.end) & set(STATUSES)
        if _denied(page, judged, cue) and not barred:
            negated.append(cue)
    if positive:
        choices = sorted({choice for choice, _ in positive}, key=field.choices.index)
        choice = choices[-1]
        cue = next(c for k, c in positive if k == choice)
        made = stated(page, field, choice, cue.start, cue.start, cue.end, 2.0)
        if len(choices) > 1 and not _one_phrase(positive):
            made = replace(
                made,
                alternatives=tuple(Alternative(c, 0.2, "also said") for c in choices[:-1]),
                doubts=(f"{' and '.join(choices)} were both said",),
            )
        yield made
    elif negated:
        cue = negated[0]
        yield stated(page, field, negative, cue.start, cue.start, cue.end, 2.0)


def _checked(page: Page, cue: Cue) -> bool:
    """*check for leaks*: looked for, and neither found nor not found."""
    return cue.start > 0 and page.slots[cue.start - 1].norm in ("for", "check")


def _denied(page: Page, judged: Judgement, cue: Cue) -> bool:
    no = judged.negated(cue.start, cue.end)
    outside = no is not None and not (cue.start <= no.cue.start and no.cue.end <= cue.end)
    return outside or _none_of(page, cue)


def _none_of(page: Page, cue: Cue) -> bool:
    """*no visible drips*, *zero flakes*: a word for none stands shortly before a fault."""
    for k in range(cue.start - 1, max(cue.start - 4, -1), -1):
        if page.slots[k].after or page.slots[k].norm in ("is", "and", "but", "so"):
            return False
        if page.slots[k].norm in ("no", "zero", "nil", "without"):
            return True
    return False


def _one_phrase(positive: list[tuple[str, Cue]]) -> bool:
    spans = sorted((c.start, c.end) for _, c in positive)
    return spans[-1][0] < spans[0][1]


def stated(
    page: Page, field: Field, value: bool | str, slot: int, first: int, last: int, score: float
) -> Statement:
    """Make the statement of a state; it begins where its clause does."""
    start = page.bounds[page.sentence(first)][0]
    while first > start and not page.slots[first - 1].after:
        first -= 1
    return Statement(
        field.name, value, None, None, slot, first, last - 1, score, signs={"state": 1.0}
    )
