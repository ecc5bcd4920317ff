"""A value said by itself, soon after a question: which draft it settles, if any.

The phone asks *Torque: seventeen, or seventy?*, and the person says only *seventeen*. What was
asked is reckoned from what had been said and seen by then, and so from the files and their times: a
draft with a doubt, said within the last minute, was asked about. So the intake of the same files
gives the same. Where the question was not, or more than one could be meant, nothing is settled, and
a doubt says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from capture.observed import Hearing, PhotoText, Transcript, Word
from desk.memos import SOON
from extract.settle.answers import Answer, Bare, answer, bare, settled
from extract.values.catalogue import Catalogue
from extract.values.draft import SAID_BEFORE, STATED_TOO, Alternative, Draft, Evidence, Position
from extract.witness.meters import UNNAMED
from record.jobs import is_weak

# Nobody can have been answered sooner; what follows within it goes on with its sentence.
ASKED_S = 1.5
BEFORE_S = 180.0  # so much of a memo is read to know what was asked in it
WHICH = "was said by itself, and may be of this or of"  # in a doubt: which of several is asked
BY_ITSELF = "was said by itself right after it"
Slot = tuple[str, Position]
Reading = Callable[[Sequence[Transcript], Sequence[PhotoText]], list[Draft]]
Doubting = Callable[[Sequence[Draft]], Sequence[Draft]]


@dataclass(frozen=True, slots=True)
class Told:
    """A value said by itself: in which memo, from when to when, and what each hearing has of it.

    `at` is when it began; `whole` says that the memo holds nothing else.
    """

    memo: Transcript
    start_s: float
    end_s: float
    at: datetime
    bares: tuple[Bare | None, ...]
    words: tuple[Word, ...]
    whole: bool

    @property
    def corrects(self) -> bool:
        """Tell whether a correction opens it."""
        return any(one.corrects for one in self.bares if one is not None)

    @property
    def heard(self) -> str:
        """Give its words."""
        return " ".join(word.text for word in self.words)


@dataclass(slots=True)
class Settling:
    """The answers found so far, the stretches of memos that they take, and doubts for slots.

    `alone` are memos of a value that is of nothing; `echoes` say once more what holds already.
    """

    answers: list[Draft] = field(default_factory=list)
    taken: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    doubts: list[tuple[Slot, datetime, str, Alternative | None]] = field(default_factory=list)
    alone: set[str] = field(default_factory=set)
    echoes: list[tuple[Slot, Evidence]] = field(default_factory=list)


def read_all(
    memos: Sequence[Transcript],
    photos: Sequence[PhotoText],
    catalogue: Catalogue,
    reading: Reading,
    doubting: Doubting,
) -> list[Draft]:
    """Give the drafts of memos and photos, with what was answered.

    `reading` gives the drafts of memos and photos, each by itself; `doubting` fuses such drafts and
    adds what speaks against them, as whoever asks knows it.
    """
    tellings = sorted(told_bare(memos, catalogue), key=lambda one: one.at)
    so_far = Settling()
    for one in tellings:
        before = [m for memo in memos if (m := _until(memo, one.at, so_far.taken))]
        seen = [p for p in photos if p.taken is not None and p.taken.at <= one.at]
        drafts = _with(reading(before, seen), so_far)
        _settle(one, drafts, list(doubting(drafts)), catalogue, so_far)
    kept = [m for memo in memos if (m := _without(memo, so_far.taken))]
    return _with(reading(kept, photos), so_far)


def told_bare(memos: Sequence[Transcript], catalogue: Catalogue) -> Iterator[Told]:
    """Find the values said by themselves, in a memo of their own or at a pause in one."""
    for memo in memos:
        if memo.began is None or is_weak(memo.began):
            continue
        stretches = _stretches(memo)
        for number, (start, end) in enumerate(stretches):
            if number == 0 and len(stretches) > 1 and not any(_soon(o, memo) for o in memos):
                continue  # nobody had asked anything, and what follows may say what it is of
            spoken = [
                tuple(w for w in h.words if start <= (w.start_s + w.end_s) / 2 < end)
                for h in memo.hearings
            ]
            heard = [(bare(words, catalogue), words) for words in spoken if words]
            bares = [one for one, _ in heard if one is not None]
            if 2 * len(bares) > len(heard):
                words = next(words for one, words in heard if one is not None)
                at = memo.moment(words[0].start_s)
                assert at is not None  # noqa: S101  (its beginning is known)
                found = tuple(one for one, _ in heard)
                yield Told(memo, start, end, at, found, words, len(stretches) == 1)


def _soon(before: Transcript, memo: Transcript) -> bool:
    if before is memo or before.began is None or memo.began is None or is_weak(before.began):
        return False
    ended = before.began.at + timedelta(seconds=before.duration_s)
    return before.began.at < memo.began.at and memo.began.at - ended <= SOON


def _stretches(memo: Transcript) -> list[tuple[float, float]]:
    """Give where a memo is cut by pauses in which something could have been asked."""
    words = memo.words
    spans = sorted(memo.speech) or [(word.start_s, word.end_s) for word in words]
    cuts = [
        (before[1] + after[0]) / 2
        for before, after in pairwise(spans)
        if after[0] - before[1] >= ASKED_S
    ]
    edges = [0.0, *cuts, memo.duration_s + 1.0]
    return list(pairwise(edges)) if words else []


def _until(
    memo: Transcript, at: datetime, taken: dict[str, list[tuple[float, float]]]
) -> Transcript | None:
    """Give a memo as far as it was spoken by a moment, without what answered."""
    if memo.began is None:
        return None
    seconds = (at - memo.began.at).total_seconds()
    if seconds <= 0:
        return None
    memo = _without(memo, taken) or replace(memo, hearings=())
    if seconds >= memo.duration_s:
        return memo if memo.words else None
    return _kept(memo, lambda middle: seconds - BEFORE_S <= middle < seconds)


def _without(memo: Transcript, taken: dict[str, list[tuple[float, float]]]) -> Transcript | None:
    """Give a memo without the stretches that answered something; None where nothing is left."""
    spans = taken.get(memo.media)
    if not spans:
        return memo
    return _kept(memo, lambda middle: not any(a <= middle < b for a, b in spans))


def _kept(memo: Transcript, holds: Callable[[float], bool]) -> Transcript | None:
    hearings = tuple(
        Hearing(h.model, h.settings, tuple(w for w in h.words if holds((w.start_s + w.end_s) / 2)))
        for h in memo.hearings
    )
    speech = tuple((a, b) for a, b in memo.speech if holds((a + b) / 2))
    kept = replace(memo, hearings=hearings, speech=speech)
    return kept if any(h.words for h in hearings) else None


def _settle(
    told: Told,
    drafts: Sequence[Draft],
    asked: Sequence[Draft],
    catalogue: Catalogue,
    so_far: Settling,
) -> None:
    """Find what a bare value answers: one question, several of which one is meant, or none."""
    recent = [d for d in asked if _ends(d) is not None and told.at - _ends(d) <= SOON]  # type: ignore[operator]
    last = max((d for d in drafts if d.quad is None), key=_moment, default=None)
    open_ = [d for d in recent if d.doubts or (told.corrects and last and d.slot == last.slot)]
    found: list[tuple[Draft, Answer]] = []
    for one in open_:
        made = answer(told.bares, one, catalogue.fields[one.name])
        # on a list of places the next value is the next place's, and on a sentence it goes on
        loose = told.whole and one.position is None
        if made is not None and (made.offered or told.corrects or loose):
            found.append((one, made))
    offered = [pair for pair in found if pair[1].offered]
    if len(offered) == 1 or (not offered and len(found) == 1):
        one, made = (offered or found)[0]
        others = [d for d, _ in found if d is not one]
        _answered(told, one, made, others, catalogue, so_far)
    elif found:
        _which(told, [one for one, _ in offered or found], catalogue, so_far)
    elif told.whole and not told.corrects:
        if all(one is None or one.is_number for one in told.bares):
            so_far.alone.add(told.memo.media)
        _said_after(told, last, catalogue, so_far)


def _answered(
    told: Told,
    asked: Draft,
    made: Answer,
    others: Sequence[Draft],
    catalogue: Catalogue,
    so_far: Settling,
) -> None:
    one = settled(asked, made, catalogue.fields[asked.name], corrects=told.corrects)
    one = replace(
        one,
        media=told.memo.media,
        start=told.words[0].start_s,
        end=told.words[-1].end_s,
        said_at=told.at,
        heard=told.heard,
    )
    for other in others:
        label = catalogue.fields[other.name].label
        one = one.with_doubt(f"it may also have been said of the {label}")
    so_far.answers.append(one)
    so_far.taken.setdefault(told.memo.media, []).append((told.start_s, told.end_s))


def _which(told: Told, asked: Sequence[Draft], catalogue: Catalogue, so_far: Settling) -> None:
    """Doubt each of several drafts that a value may answer: nobody but its speaker can tell."""
    for one in asked:
        labels = [catalogue.fields[o.name].label for o in asked if o is not one]
        doubt = f"“{told.heard}” {WHICH} {' or '.join(dict.fromkeys(labels))}"
        so_far.doubts.append((one.slot, told.at, doubt, None))
    so_far.taken.setdefault(told.memo.media, []).append((told.start_s, told.end_s))


def _said_after(told: Told, last: Draft | None, catalogue: Catalogue, so_far: Settling) -> None:
    """Doubt what was said right before another value that it can have; its own is an echo."""
    end = _ends(last) if last is not None else None
    if last is None or end is None or told.at - end > SOON:
        return
    entry = catalogue.fields[last.name]
    made = answer(told.bares, last, entry)
    if made is None:
        return
    if entry.kind_object.same(made.value, last.value):
        words = told.words
        echo = Evidence(told.memo.media, told.heard, words[0].start_s, words[-1].end_s, told.at)
        so_far.echoes.append((last.slot, echo))
        return
    other = Alternative(made.value, 0.3, STATED_TOO)
    so_far.doubts.append((last.slot, told.at, f"“{told.heard}” {BY_ITSELF}", other))


def _with(drafts: Sequence[Draft], so_far: Settling) -> list[Draft]:
    """Give drafts with the answers in the place of what they settle, and with the doubts raised."""
    made = [d for d in drafts if d.media not in so_far.alone or UNNAMED in d.doubts]
    for one in so_far.answers:
        earlier = [d for d in made if d.slot == one.slot and d.quad is None and _before(d, one)]
        before = [
            Alternative(d.value, 0.05, SAID_BEFORE)
            for d in earlier
            if d.value != one.value and all(a.value != d.value for a in one.alternatives)
        ]
        also = [Evidence(d.media, d.heard, d.start, d.end, d.said_at) for d in earlier]
        also += [e for d in earlier for e in d.also]
        made = [d for d in made if d not in earlier]
        made.append(
            replace(one, alternatives=(*one.alternatives, *before), also=(*one.also, *also))
        )
    return [_doubted(d, so_far) for d in made]


def _doubted(draft: Draft, so_far: Settling) -> Draft:
    for slot, echo in so_far.echoes:
        said = draft.said_at is not None and draft.quad is None
        if draft.slot == slot and said and draft.said_at < echo.said_at:  # type: ignore[operator]
            draft = replace(draft, also=(*draft.also, echo))
    for slot, at, doubt, other in so_far.doubts:
        if draft.slot == slot and draft.said_at is not None and draft.said_at <= at:
            draft = draft.with_doubt(doubt)
            if other is not None:
                draft = replace(draft, alternatives=(*draft.alternatives, other))
    return draft


def _before(draft: Draft, answer_: Draft) -> bool:
    if draft.said_at is None or answer_.said_at is None:
        return False
    return draft.said_at < answer_.said_at


def _moment(draft: Draft) -> datetime:
    return _ends(draft) or datetime.min.replace(tzinfo=UTC)


def _ends(draft: Draft) -> datetime | None:
    """Give when the last of what tells a draft had been said or seen."""
    told = [(draft.said_at, draft.start, draft.end)]
    told += [(e.said_at, e.start, e.end) for e in draft.also]
    ends = [at + timedelta(seconds=(end or 0.0) - (start or 0.0)) for at, start, end in told if at]
    return max(ends, default=None)
