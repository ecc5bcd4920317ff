"""States of things: yes or no (*the filter is safetied*) and one of a few words (*no leaks*)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from extract.assertions import STATUSES, Judgement
from extract.catalogue import Catalogue, Field
from extract.draft import Alternative
from extract.outline import Cue
from extract.statements import Page, Statement

_SHORT = (
    "in",
    "on",
    "up",
    "off",
    "open",
    "back",
    "out",
    "tight",
    "cut",
    "closed",
    "shut",
    "apart",
    "is in",
    "is on",
    "is up",
)
_MAY_FOLLOW = (
    "and",
    "now",
    "again",
    "tight",
    "too",
    "already",
    "nice",
    "yet",
    "but",
    "so",
    "good",
    "all",
    "with",
    "i",
    "we",
    "properly",
    "securely",
    "okay",
    "snug",
    "till",
    "until",
    "for",
    "because",
)
_PRONOUNS = ("it", "its", "that", "they", "she", "one", "them", "this")


def read_truths(page: Page, judged: Judgement, catalogue: Catalogue) -> tuple[Statement, ...]:
    """Read every state that a page declares."""
    made: list[Statement] = []
    owners = _subject_owners(page, catalogue)
    for field in catalogue.fields.values():
        for n in range(len(page.bounds)):
            if field.kind == "truth":
                made += _truth(page, judged, field, n, owners)
            elif field.kind == "choice":
                made += _choice(page, judged, field, n)
    return tuple(made)


def _subject_owners(page: Page, catalogue: Catalogue) -> tuple[tuple[Cue, frozenset[str]], ...]:
    """Give every subject said, with the fields that it may be the subject of; longest win."""
    truths = {f.name for f in catalogue.fields.values() if f.kind == "truth"}
    cues = [
        c
        for found in page.cues
        for c in found
        if (c.kind == "subjects" and c.owner in truths)
        or c.kind == "thing"
        or (c.kind == "other" and c.owner == "other_parts")
    ]
    spans = {(c.start, c.end) for c in cues}
    longest = {s for s in spans if not any(t != s and t[0] <= s[0] and s[1] <= t[1] for t in spans)}
    made = []
    for start, end in sorted(longest):
        same = [c for c in cues if (c.start, c.end) == (start, end)]
        made.append((same[0], frozenset(c.owner for c in same)))
    return tuple(made)


def _truth(  # noqa: C901 - the order of the tests is the rule
    page: Page,
    judged: Judgement,
    field: Field,
    n: int,
    owners: tuple[tuple[Cue, frozenset[str]], ...],
) -> Iterable[Statement]:
    here = [c for c in page.cues[n] if c.owner == field.name]
    unless = [c for c in here if c.kind == "unless"]
    said: list[tuple[Cue, bool, float, Cue | None]] = []
    for cue in here:
        if cue.kind in ("no", "passing"):
            said.append((cue, False, 2.5 if cue.kind == "no" else 1.0, None))
        elif cue.kind == "yes":
            said.append((cue, True, 2.4, None))
        elif cue.kind in ("done", "undone"):
            found = _subject(page, cue, n, owners)
            if found is not None and field.name in found[1]:
                weight = 2.0 if found[2] else 1.6
                said.append((cue, cue.kind == "done", weight, found[0] if found[2] else None))
    said = _longest(said)
    for cue, value, weight, subject in said:
        first = min(cue.start, subject.start) if subject else cue.start
        last = max(cue.end, subject.end) if subject else cue.end
        if any(c.start < last and first < c.end for c in unless):
            continue
        status = judged.statuses(cue.end - 1)
        if cue.kind == "no":
            status = status - {"plan"}  # "won't be taking a sample" says that none was taken
        if status & set(STATUSES):
            continue
        if cue.kind not in ("no", "passing") and (no := judged.negated(cue.end - 1)) is not None:
            inside = cue.start <= no.cue.start and no.cue.end <= cue.end
            if not inside or cue.kind == "yes":
                if cue.kind == "undone":
                    continue
                value = False
        made = _made(page, field, value, cue.start, first, last, weight)
        yield made.doubted("it may be so only for the moment") if cue.kind == "passing" else made


def _longest(
    said: list[tuple[Cue, bool, float, Cue | None]],
) -> list[tuple[Cue, bool, float, Cue | None]]:
    """Drop what lies inside a longer cue; a *no* beats the *yes* that it contains or crosses."""
    keep = []
    for item in said:
        cue = item[0]
        beaten = any(
            other[0] is not cue
            and other[0].start < cue.end
            and cue.start < other[0].end
            and _beats(other[0], cue)
            for other in said
        )
        if not beaten:
            keep.append(item)
    return keep


def _beats(other: Cue, cue: Cue) -> bool:
    rank = {"no": 3, "undone": 2, "passing": 1, "yes": 1, "done": 1}
    a, b = rank[other.kind], rank[cue.kind]
    if a != b and {other.kind, cue.kind} & {"no", "undone"}:
        return a > b
    size, mine = other.end - other.start, cue.end - cue.start
    return (size, -other.start, other.kind) > (mine, -cue.start, cue.kind)


def _subject(
    page: Page, cue: Cue, n: int, owners: tuple[tuple[Cue, frozenset[str]], ...]
) -> tuple[Cue, frozenset[str], bool] | None:
    """Find what a state is said of: the object behind it, the nearest before, or one carried."""
    a, b = page.bounds[n]
    words = " ".join(s.norm for s in page.slots[cue.start : cue.end])
    last = page.slots[cue.end - 1].norm
    if (words in _SHORT or last in ("on", "in", "off")) and not _closes(page, cue, b):
        return None
    behind = [o for o in owners if cue.end <= o[0].start <= cue.end + 2 and o[0].end <= b]
    joined = behind and not _pause(page, cue.end - 1, behind[0][0].start) and words not in _SHORT
    if joined and page.slots[cue.end].norm not in ("and", "but", "with", "before", "after"):
        return (*behind[0], True)
    before = [o for o in owners if a <= o[0].start and o[0].end <= cue.start]
    if before:
        nearest = before[-1]
        gap = cue.start - nearest[0].end
        limit = 4 if words in _SHORT else 9
        if cue.end < b and page.slots[cue.end].norm in ("it", "them", "that"):
            limit = 40  # "wired it": whatever was spoken of
        linked = words.startswith("is ") or page.slots[cue.start - 1].norm in (
            "is",
            "was",
            "are",
            "been",
        )
        if linked and len(before) == 1:
            limit = 40  # "the drain valve, and I check this twice, is shut"
        return (*nearest, True) if gap <= limit else None
    if behind and page.slots[cue.end].norm not in ("and", "but"):
        return (*behind[0], True)
    opens = [s.norm for s in page.slots[a : cue.start]]
    object_ = cue.end < b and page.slots[cue.end].norm in ("it", "them")
    back = 4 if opens or object_ else 2
    earlier = [o for o in owners if o[0].end <= a and page.sentence(o[0].start) >= n - back]
    if earlier and (not opens or opens == ["not"] or any(w in _PRONOUNS for w in opens[:4])):
        if words in _SHORT and not any(w in ("it", "she", "that") for w in opens[:3]):
            return None
        return (*earlier[-1], False)
    return None


def _pause(page: Page, start: int, end: int) -> bool:
    return any(page.slots[k].after for k in range(start, end))


def _closes(page: Page, cue: Cue, end: int) -> bool:
    """A short word such as *in* is a state only where the clause ends, or goes on with *and*."""
    if page.slots[cue.end - 1].after or cue.end >= end:
        return True
    return page.slots[cue.end].norm in _MAY_FOLLOW


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
        if (
            cue.start
            and page.slots[cue.start - 1].norm in ("for", "any", "the", "check")
            and cue.literals == 1
        ) and page.slots[cue.start - 1].norm != "the":
            continue
        if judged.negated(cue.start, cue.end) is not None:
            negated.append(cue)
        else:
            positive.append((choice, cue))
    if positive:
        choices = sorted({choice for choice, _ in positive}, key=field.choices.index)
        choice = choices[-1]
        cue = next(c for k, c in positive if k == choice)
        made = _made(page, field, choice, cue.start, cue.start, cue.end, 2.0)
        if len(choices) > 1 and not _one_phrase(positive):
            made = replace(
                made,
                alternatives=tuple(Alternative(c, 0.2, "also said") for c in choices[:-1]),
                doubts=(f"{' and '.join(choices)} were both said",),
            )
        yield made
    elif negated:
        cue = negated[0]
        yield _made(page, field, negative, cue.start, cue.start, cue.end, 2.0)


def _one_phrase(positive: list[tuple[str, Cue]]) -> bool:
    spans = sorted((c.start, c.end) for _, c in positive)
    return spans[-1][0] < spans[0][1]


def _made(
    page: Page, field: Field, value: bool | str, slot: int, first: int, last: int, score: float
) -> Statement:
    start = page.bounds[page.sentence(first)][0]
    while first > start and not page.slots[first - 1].after:
        first -= 1
    return Statement(
        field.name, value, None, None, slot, first, last - 1, score, signs={"state": 1.0}
    )
