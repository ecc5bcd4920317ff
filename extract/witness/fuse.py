"""Several readings of one field to one draft: agreement, doubt, alternatives.

A witness is one memo or one photo. What one witness says twice is settled first, then the witnesses
are compared. Each other witness stays with the draft as further evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from extract.exact.amiss import ARTICLE, LEFT_OUT, SOUND_ALIKE
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS, one_thing
from extract.values.draft import STATED_TOO, Alternative, Draft, Evidence
from extract.values.kinds import Kind
from extract.values.known import NOTHING, Known
from extract.witness.meters import fits
from extract.witness.photo import NO_FILTER, NO_METER, NO_PART

DIFFER = 0.55  # how sure a value is that another witness contradicts
FAINT = 0.2  # how much less sure a later statement may be and still count
# What one witness leaves open about which thing it is, or which letters, and another one answers.
ANSWERED = (NO_FILTER, NO_PART, NO_METER, SOUND_ALIKE, LEFT_OUT, ARTICLE)
AGREE = 0.99  # how sure two independent witnesses can make a value


def fuse(
    drafts: Sequence[Draft], catalogue: Catalogue, known: Known = NOTHING
) -> tuple[Draft, ...]:
    """Give one draft a slot (field and position), in catalogue order, and one each finding."""
    slots: dict[tuple[str, object], dict[str, list[Draft]]] = {}
    findings: list[tuple[Draft, tuple[str, object]]] = []
    for draft in drafts:
        slot: tuple[str, object] = draft.slot
        if draft.name in FINDINGS and draft.position is None:
            new = draft.name, len(findings)
            slot = next((its for other, its in findings if one_thing(other, draft)), new)
            findings.append((draft, slot))
        slots.setdefault(slot, {}).setdefault(draft.media, []).append(draft)
    order = {name: n for n, name in enumerate(catalogue.fields)}
    made = []
    for (name, _), witnesses in slots.items():
        kind = catalogue.fields[name].kind_object
        told = [_restated(group, kind, known) for group in witnesses.values()]
        if all(draft.said_at for draft in told):
            told.sort(key=lambda draft: draft.said_at.timestamp() if draft.said_at else 0.0)
        made.append(once(_witnessed(told, kind, known), kind))
    return tuple(sorted(made, key=lambda d: (order.get(d.name, len(order)), str(d.position))))


def once(draft: Draft, kind: Kind) -> Draft:
    """Give a draft that offers each other value once, the likeliest of it, and never its own."""
    kept: list[Alternative] = []
    for one in sorted(draft.alternatives, key=lambda a: -a.confidence):
        values = (draft.value, *(a.value for a in kept))
        if not any(kind.same(one.value, value) for value in values):
            kept.append(one)
    return replace(
        draft, alternatives=tuple(a for a in draft.alternatives if any(a is k for k in kept))
    )


def _restated(group: list[Draft], kind: Kind, known: Known) -> Draft:
    """Settle what one witness says: the last statement counts, and another value is a doubt."""
    due = [d for d in group if fits(d, known)] or group
    sure = [d for d in due if d.confidence > due[-1].confidence + FAINT]
    last = max(sure, key=lambda d: d.confidence) if sure else due[-1]
    differing = [d for d in group if not kind.same(d.value, last.value)]
    if not differing:
        return max(group, key=lambda d: (d.confidence, -(d.start or 0)))
    if _came_about(last, kind):
        return last
    return _contradicted(
        last, differing, kind, f"said twice, and not the same: {_in_turn(group, kind)}"
    )


def _witnessed(told: list[Draft], kind: Kind, known: Known) -> Draft:
    """Compare the witnesses of one field, in the order of time."""
    if len(told) == 1:
        return told[0]
    best = _preferred(told, known)
    differing = [d for d in told if not _same(d, best, kind)]
    agreeing = [d for d in told if _same(d, best, kind)]
    if not differing or _came_about(best, kind):
        best = max(agreeing, key=lambda d: (_fullness(d), not d.doubts, d.confidence))
    others = tuple(_evidence(d) for d in told if d is not best)
    if differing and not _came_about(best, kind):
        seen = any(_is_photo(d) for d in told)
        how = "the photo and what was said differ" if seen else "said twice, and not the same"
        best = _contradicted(best, differing, kind, f"{how}: {_in_turn(told, kind)}")
    elif any(_is_photo(d) != _is_photo(best) for d in agreeing):
        # eye and ear are independent: the chance that both are wrong, and alike, is far smaller
        unsure = min(1 - d.confidence for d in agreeing) / 2
        best = replace(best, confidence=max(best.confidence, min(AGREE, 1 - unsure)))
        if not differing:
            best = replace(best, doubts=tuple(d for d in best.doubts if d not in ANSWERED))
    return replace(best, also=(*best.also, *others))


def _same(a: Draft, b: Draft, kind: Kind) -> bool:
    return kind.same(a.value, b.value) or _ends(a, b) or _ends(b, a)


def _ends(short: Draft, whole: Draft) -> bool:
    # "dash two two seven A" is how people say the end of a longer number
    end, number = str(short.value), str(whole.value)
    return end.startswith("-") and len(end) > 3 and number.endswith(end)


def _fullness(draft: Draft) -> int:
    return len(draft.value) if isinstance(draft.value, str) else 0


def _preferred(told: list[Draft], known: Known) -> Draft:
    """Give the witness to follow: what is known speaks for it, the surer eye, the later word."""
    photos = any(_is_photo(d) for d in told)

    def rank(item: tuple[int, Draft]) -> tuple[bool, float, int]:
        place, draft = item
        return _expected(draft, known), draft.confidence if photos else 0.0, place

    return max(enumerate(told), key=rank)[1]


def _expected(draft: Draft, known: Known) -> bool:
    if draft.name == "filter_part_number":
        return draft.value == known.filter_part_number
    last = {"tach_time": known.last_tach, "hour_meter_time": known.last_hour_meter}.get(draft.name)
    return last is None or bool(draft.value >= last)  # type: ignore[operator]


def _came_about(draft: Draft, kind: Kind) -> bool:
    # first open, then closed: a state that came about, and no contradiction
    return kind.name == "truth" and draft.value is True and not draft.doubts


def _contradicted(best: Draft, differing: list[Draft], kind: Kind, doubt: str) -> Draft:
    others = [Alternative(d.value, 0.4, _why(d)) for d in differing]
    return replace(
        best.with_doubt(doubt),
        confidence=min(best.confidence, DIFFER),
        alternatives=(*others, *best.alternatives),
    )


def _why(draft: Draft) -> str:
    return f"on {draft.media}" if _is_photo(draft) else STATED_TOO


def _in_turn(told: Sequence[Draft], kind: Kind) -> str:
    """Give the values in the order of telling, each once; where some are seen, which of them."""
    photos = any(_is_photo(d) for d in told)
    shown: list[Draft] = []
    for draft in told:
        if not any(kind.same(draft.value, d.value) for d in shown):
            shown.append(draft)
    where = {True: "photographed ", False: "said "}
    return (", " if photos else ", then ").join(
        f"{where[_is_photo(d)] if photos else ''}{kind.show(d.value, d.unit)}" for d in shown
    )


def _is_photo(draft: Draft) -> bool:
    return draft.quad is not None


def _evidence(draft: Draft) -> Evidence:
    return Evidence(draft.media, draft.heard, draft.start, draft.end, draft.said_at, draft.quad)
