"""What a state is said of: the object behind its verb, the nearest thing before it, one carried."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from extract.talk.outline import Cue, clause_starts
from extract.talk.statements import Page
from extract.values.catalogue import Catalogue
from extract.words.lists import table
from extract.words.verbs import bare_row, done_row

Owners = tuple[tuple[Cue, frozenset[str]], ...]

_SHORT = (
    "in", "on", "up", "off", "open", "back", "out", "tight", "cut", "closed", "shut", "apart",
    "is in", "is on", "is up",
)  # fmt: skip
_MAY_FOLLOW = (
    "and", "now", "again", "tight", "too", "already", "nice", "yet", "but", "so", "good", "all",
    "with", "i", "we", "properly", "securely", "okay", "snug", "till", "until", "for", "because",
    "myself", "ourselves", "both", "as", "yes", "before", "after", "no", "leak", "leaks", "tach",
    "oil", "hobbs",
)  # fmt: skip
_PRONOUNS = ("it", "its", "that", "they", "she", "one", "them", "this")
_BE = ("is", "was", "are", "been", "were", "got", "gets", "being")
_ADJECTIVES = (
    "used", "clean", "wet", "fresh", "good", "same", "whole", "entire", "spent", "big", "small",
    "little", "main", "front", "rear", "top", "bottom", "upper", "lower", "left", "right", "only",
    "other", "first", "second", "last", "next", "usual", "proper", "actual", "poor",
    "metal", "steel", "engine", "aircraft", "airplane", "plane", "single", "two", "wire",
)  # fmt: skip
_OURS = ("airplane", "plane", "aircraft", "ship", "engine", "bird", "new", "one", "sump")
_ADVERBS = ("now", "both", "all", "fully", "properly", "still", "already", "finally", "not")
_PARTICLES = ("up", "off", "out", "open", "back", "down", "apart", "away")
_BREAKS = (
    "and", "but", "with", "before", "after", "in", "on", "at", "to", "from", "for", "so", "then",
    "i", "we", "it", "is", "was", "which", "because", "as", "while", "into", "round", "by", "of",
)  # fmt: skip
_ARTICLES = (
    "the",
    "a",
    "an",
    "my",
    "his",
    "her",
    "our",
    "your",
    "their",
    "this",
    "some",
    "another",
)
_BACK = 4  # sentences that a thing is carried over
_HEADING = 3  # words besides the thing that a heading may have


def subject_owners(page: Page, catalogue: Catalogue) -> Owners:
    """Give every subject said, with the fields that it may be the subject of; longest win.

    A thing of the hangar right before another makes it another thing: *fuel drain*.
    """
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
    made: list[tuple[Cue, frozenset[str]]] = []
    for start, end in sorted(longest):
        same = [c for c in cues if (c.start, c.end) == (start, end)]
        owners = frozenset(c.owner for c in same)
        joined = made and made[-1][0].end == start and not page.slots[start - 1].after
        if joined and not made[-1][1] & truths:
            owners = made[-1][1]
        if _of_another(page, start) or _unknown(page, start, owners, catalogue):
            owners = frozenset()
        made.append((same[0], owners))
    return tuple(made)


def _of_another(page: Page, start: int) -> bool:
    """*the neighbor's cowl* is another's; *the plane's cowl* and *today's sample* are not."""
    if start < 3 or page.slots[start - 1].norm != "is":
        return False
    article, owner = (s.norm for s in page.slots[start - 3 : start - 1])
    return article in ("the", "that", "other") and owner not in _OURS


def _unknown(page: Page, start: int, owners: frozenset[str], catalogue: Catalogue) -> bool:
    """*phone screen*, *heat valve*: a noun of no known use makes it another thing."""
    if start == 0 or page.slots[start - 1].after:
        return False
    word = page.slots[start - 1].norm
    if word in _speech() or word.endswith(("ed", "ing", "y")) or not word.isalpha():
        return False
    return not any(word in _vocabulary(catalogue, name) for name in owners if name != "things")


@cache
def _speech() -> frozenset[str]:
    """Give the words of plain speech: those of the assertions' cues, articles and the like."""
    lists = [rows for kinds in table("assertions").values() for rows in kinds.values()]
    said = _words(row for rows in lists for row in rows) | set(table("risk")["plain"])
    return frozenset(said | {*_ARTICLES, *_BREAKS, *_PARTICLES, *_ADVERBS, *_BE, *_ADJECTIVES})


@cache
def _vocabulary(catalogue: Catalogue, name: str) -> frozenset[str]:
    """Give the words of a field's own cues."""
    field = catalogue.fields.get(name)
    if field is None:
        return frozenset()
    rows = {**field.cues, "says": [row for rows in field.says.values() for row in rows]}
    acts = field.cues.get("acts", ())
    said = [row for kind, rows in rows.items() if kind != "unless" for row in rows]
    return frozenset(_words([*said, *map(done_row, acts), *map(bare_row, acts)]))


def _words(rows: Iterable[str]) -> set[str]:
    return {word for row in rows for token in row.split() for word in token.strip("!?").split("|")}


def find_subject(  # noqa: C901 - the order of the tests is the rule
    page: Page, cue: Cue, n: int, owners: Owners, *, acting: bool = False
) -> tuple[Cue, frozenset[str], bool] | None:
    """Find what a state is said of, its fields, and whether the same sentence says it.

    `acting` says that the thing does what the verb says: it stands before it, and no object counts.
    """
    a, b = page.bounds[n]
    words = " ".join(s.norm for s in page.slots[cue.start : cue.end])
    last = page.slots[cue.end - 1].norm
    if acting:
        owners = tuple(o for o in owners if cue.owner in o[1])
    inside = [o for o in owners if cue.start <= o[0].start and o[0].end <= cue.end]
    if inside:
        return (*inside[-1], True)
    short = words in _SHORT or (cue.kind == "done" and last in ("on", "in", "off"))
    verb = cue.kind == "act" or words in ("closed", "shut", "cut")
    if short and not verb and not _closes(page, cue, b):
        return None
    linked = words.startswith("is ") or _linked(page, cue, a)
    object_ = None if acting else _object(page, cue, b, owners)
    before = [o for o in owners if a <= o[0].start and o[0].end <= cue.start]
    article = page.slots[cue.start - 1].norm in _ARTICLES if cue.start > a else False
    if object_ is not None and article and object_[0].start == cue.end and cue.kind == "done":
        return None  # "a closed drain"
    if object_ is not None and (verb or not short):
        if object_[1]:
            return (*object_, True)
        if not linked and not (before and before[-1][0].end == cue.start):
            return None
    if before:
        nearest = before[-1]
        if len(before) > 1 and cue.owner not in nearest[1] and _joined(page, *before[-2:]):
            nearest = before[-2]
        gap = cue.start - nearest[0].end
        limit = 4 if words in _SHORT else 9
        if cue.end < b and page.slots[cue.end].norm in ("it", "them", "that"):
            limit = 40  # "wired it": whatever was spoken of
        if linked and len(before) == 1:
            limit = 40  # "the drain valve, and I check this twice, is shut"
        return (*nearest, True) if gap <= limit else None
    if object_ is not None:
        return (*object_, True) if object_[1] else None
    return _carried(page, cue, n, owners, words)


def _carried(
    page: Page, cue: Cue, n: int, owners: Owners, words: str
) -> tuple[Cue, frozenset[str], bool] | None:
    """Find the thing of a sentence before: a heading, or what a pronoun stands for."""
    a, b = page.bounds[n]
    begins = [
        k
        for k in clause_starts(page.slots, a, b)
        if k <= cue.start and (k == a or page.slots[k - 1].norm != "and" or page.slots[k - 1].after)
    ]
    opens = [s.norm for s in page.slots[begins[-1] : cue.start]]
    headed = [o for o in owners if n and _heads(page, n - 1, o[0])]
    if headed and len(opens) <= 6:
        return (*headed[-1], False)
    object_ = cue.end < b and page.slots[cue.end].norm in ("it", "them")
    earlier = [o for o in owners if o[0].end <= a and page.sentence(o[0].start) >= n - _BACK]
    short = words in _SHORT
    behind = _behind(page, cue, b, owners)
    if behind is not None:
        return (*behind, True)
    alone = not opens or opens == ["not"]
    if earlier and (alone or object_ or any(w in _PRONOUNS for w in opens[:4])):
        if short and not any(w in ("it", "she", "that") for w in opens[:3]):
            return None
        return (*earlier[-1], False)
    later = [o for o in owners if cue.end <= o[0].start < b and cue.owner in o[1]]
    acted = bool({"i", "we", "he", "they"} & set(opens))
    return (*later[0], False) if later and not short and not acted else None


def _behind(page: Page, cue: Cue, end: int, owners: Owners) -> tuple[Cue, frozenset[str]] | None:
    """*Still open, the drain.*, *It got its wire, the filter did*: the thing named afterwards."""
    for owner in owners:
        first = owner[0].start - 1 if page.slots[owner[0].start - 1].norm in _ARTICLES else None
        if first is None or not cue.end <= first < end or not page.slots[first - 1].after:
            continue
        ends = owner[0].end >= end or page.slots[owner[0].end - 1].after
        if ends or page.slots[owner[0].end].norm in ("did", "has", "is", "was", "i", "we", "does"):
            return owner
    return None


def _joined(page: Page, one: tuple[Cue, frozenset[str]], other: tuple[Cue, frozenset[str]]) -> bool:
    """*the filter and the drain are safetied*: two things of one verb."""
    between = [s.norm for s in page.slots[one[0].end : other[0].start]]
    return between[:1] == ["and"] and len(between) <= 3


def _linked(page: Page, cue: Cue, start: int) -> bool:
    """*is now shut*, *are both closed*."""
    k = cue.start - 1
    while k > start and page.slots[k].norm in _ADVERBS:
        k -= 1
    return k >= start and page.slots[k].norm in _BE


def _heads(page: Page, n: int, cue: Cue) -> bool:
    """*Suction screen.*, *And the filter?*: a sentence that is only the thing's name."""
    a, b = page.bounds[n]
    return a <= cue.start and cue.end == b and cue.start - a <= _HEADING


def _object(page: Page, cue: Cue, end: int, owners: Owners) -> tuple[Cue, frozenset[str]] | None:
    """Find the thing right behind a verb; one of no field if another thing is named there."""
    at = cue.end
    if at >= end or page.slots[at - 1].after:
        return None
    while at < end and page.slots[at].norm in _PARTICLES and not page.slots[at].after:
        at += 1
    start = at
    while at < end and at < start + 5:
        found = [o for o in owners if o[0].start == at and o[0].end <= end]
        if found:
            return found[-1]
        if page.slots[at].after or (page.slots[at].norm in _BREAKS):
            break
        at += 1
    named = start < end and page.slots[start].norm in _ARTICLES and at > start + 1
    return (cue, frozenset()) if named else None


def _closes(page: Page, cue: Cue, end: int) -> bool:
    """A short word such as *in* is a state only where the clause ends, or goes on with *and*."""
    if page.slots[cue.end - 1].after or cue.end >= end:
        return True
    return page.slots[cue.end].norm in _MAY_FOLLOW
