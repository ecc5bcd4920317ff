"""Which words were misheard as what, from what people decided; and how one is learned.

Evidence is gathered here, nothing is concluded: a pair of words reaches the profile by a person's
yes alone, and a value never does (see extract.mend.taught).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture.errors import InputError
from capture.observed import Hearing, Word
from desk import written
from desk.profile import PROFILE_NAME, Profile, read_profile
from desk.settings import Settings
from extract.mend.rescue import read_back
from extract.mend.taught import Pair, alike, hindrance, tidy
from extract.values.draft import plain
from extract.words.parts import parts_of

if TYPE_CHECKING:
    from record.lessons import Decided, Memo

# A pair is offered from so many confirmed places on: one may be chance. Our choice, no source.
ENOUGH = 2
# Two hearings of one spoken word begin within this of each other.
SAME_S = 1.0
MOST = 4  # places named of one kind; the JSON has them all


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a word was heard: the memo, and seconds into it."""

    memo: str
    second: float


@dataclass(frozen=True, slots=True)
class Lesson:
    """A pair of words, and where it was heard, by what was decided of the draft around it.

    `elsewhere` are the places where the words were heard and not read back; `learned` says that the
    profile has the pair; `hindrance` why it cannot be learned, empty if it can.
    """

    heard: str
    meant: str
    confirmed: tuple[Place, ...]
    amended: tuple[Place, ...]
    rejected: tuple[Place, ...]
    elsewhere: tuple[Place, ...]
    learned: bool
    hindrance: str

    @property
    def offered(self) -> bool:
        """Say whether the evidence is enough to offer it: confirmed twice and never rejected."""
        free = not self.learned and not self.hindrance
        return free and len(self.confirmed) >= ENOUGH and not self.rejected

    def to_json(self) -> dict[str, Any]:
        """Give it JSON-ready; places as objects of `memo` and `second`."""
        made: dict[str, Any] = {"heard": self.heard, "meant": self.meant}
        for name in ("confirmed", "amended", "rejected", "elsewhere"):
            places: tuple[Place, ...] = getattr(self, name)
            made[name] = [{"memo": p.memo, "second": round(p.second, 2)} for p in places]
        rest = {"learned": self.learned, "offered": self.offered, "hindrance": self.hindrance}
        return made | rest


@dataclass(frozen=True, slots=True)
class Lessons:
    """What there is to learn: pairs of words, and the values that people put right.

    `amended` pairs a memo's name with a decision; it is shown, and never learned.
    """

    pairs: tuple[Lesson, ...]
    amended: tuple[tuple[str, Decided], ...]

    def to_json(self) -> dict[str, Any]:
        """Give it JSON-ready."""
        amended = [
            {
                "memo": memo,
                "second": round(one.start, 2),
                "draft": one.draft,
                "name": one.name,
                "position": one.position,
                "heard": one.heard,
                "value": plain(one.value),
                "entered": None if one.entered is None else plain(one.entered),
                "unit": one.unit,
                "by": one.by,
            }
            for memo, one in self.amended
        ]
        return {"words": [lesson.to_json() for lesson in self.pairs], "amended": amended}


def own_words(profile: Profile) -> tuple[str, ...]:
    """Give the words that a profile adds to those of the trade."""
    return tuple(filter(None, (*profile.words, profile.additive)))


def lessons(memos: Sequence[Memo], profile: Profile) -> Lessons:
    """Gather the evidence: what is offered first, then by how often it was confirmed."""
    found: dict[Pair, dict[str, list[Place]]] = {}
    for memo in memos:
        for pair, state, place in _evidence(memo, profile):
            found.setdefault(pair, {}).setdefault(state, []).append(place)
    for pair in profile.heard:
        found.setdefault(pair, {})
    elsewhere = _elsewhere(memos, profile, {heard for heard, _ in found})
    made = [
        _lesson(pair, states, elsewhere.get(pair[0], ()), profile) for pair, states in found.items()
    ]
    made.sort(key=lambda one: (not one.offered, one.learned, -len(one.confirmed), one.heard))
    amended = [(m.name, d) for m in memos for d in m.decided if d.state == "amended"]
    return Lessons(tuple(made), tuple(amended))


def _lesson(
    pair: Pair, states: dict[str, list[Place]], elsewhere: Sequence[Place], profile: Profile
) -> Lesson:
    confirmed, amended, rejected = (
        _distinct(states.get(state, ())) for state in ("confirmed", "amended", "rejected")
    )
    learned, why = pair in profile.heard, hindrance(*pair, own_words(profile))
    return Lesson(*pair, confirmed, amended, rejected, _distinct(elsewhere), learned, why)


def _evidence(memo: Memo, profile: Profile) -> Iterator[tuple[Pair, str, Place]]:
    """Give each pair in the words of a decided draft: read back, or heard two ways."""
    hearings = memo.transcript.hearings
    for hearing in hearings:
        for one in read_back([w.text for w in hearing.words], profile.heard):
            start, end = hearing.words[one.first].start_s, hearing.words[one.last].end_s
            for decided in memo.decided:
                if _within(start, end, decided):
                    yield (one.heard, one.meant), decided.state, Place(memo.name, start)
    for decided in memo.decided:
        for pair, word in _otherwise(hearings, decided, profile):
            yield pair, decided.state, Place(memo.name, word.start_s)


def _within(start: float, end: float, decided: Decided) -> bool:
    return start < decided.end and end > decided.start


def _otherwise(
    hearings: Sequence[Hearing], decided: Decided, profile: Profile
) -> Iterator[tuple[Pair, Word]]:
    """Give where one hearing has a word of the trade and another, at the same time, its like."""
    own = own_words(profile)
    here = [
        [(_norm(w), w) for w in h.words if _within(w.start_s, w.end_s, decided)] for h in hearings
    ]
    for one in here:
        for other in here:
            for meant, word in one:
                for heard, misheard in other:
                    if heard == meant or not _overlap(word, misheard):
                        continue
                    if not hindrance(heard, meant, own) and alike(heard, meant):
                        yield (heard, meant), misheard


def _norm(word: Word) -> str:
    return " ".join(part.norm for part in parts_of([word.text]))


def _overlap(one: Word, other: Word) -> bool:
    """Say whether two words share at least half of the shorter one's time."""
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    shorter = min(one.end_s - one.start_s, other.end_s - other.start_s)
    return shared > 0 and shared >= shorter / 2


def _elsewhere(memos: Sequence[Memo], profile: Profile, heard: set[str]) -> dict[str, list[Place]]:
    """Give where words that were misheard once were heard and not read back."""
    rows: dict[str, list[tuple[list[str], str]]] = {}  # by the first word: few begin alike
    for words in heard:
        row = words.split()
        rows.setdefault(row[0] if row else "", []).append((row, words))
    found: dict[str, list[Place]] = {}
    for memo in memos:
        for hearing in memo.transcript.hearings:
            texts = [w.text for w in hearing.words]
            back = {n for b in read_back(texts, profile.heard) for n in range(b.first, b.last + 1)}
            parts = parts_of(texts)
            norms = [part.norm for part in parts]
            for at, norm in enumerate(norms):
                for row, words in rows.get(norm, ()):
                    if norms[at : at + len(row)] == row and parts[at].word not in back:
                        second = hearing.words[parts[at].word].start_s
                        found.setdefault(words, []).append(Place(memo.name, second))
    return found


def _distinct(places: Iterable[Place]) -> tuple[Place, ...]:
    """Give places in order, one where several hearings or drafts have the same word."""
    made: list[Place] = []
    for place in sorted(places):
        last = made[-1] if made else None
        if last is None or last.memo != place.memo or place.second - last.second > SAME_S:
            made.append(place)
    return tuple(made)


def pair_of(text: str, profile: Profile) -> Pair:
    """Read `HEARD=MEANT`. Raises InputError for what cannot be learned, and says why."""
    heard, equals, meant = map(tidy, text.partition("="))
    if not (heard and equals and meant):
        raise InputError(f"{text!r} is no pair of words", todo='write it as "tacks=tach"')
    why = hindrance(heard, meant, own_words(profile))
    already = dict(profile.heard).get(heard)
    if not why and already is not None:
        why = f"the profile has it already, as {already!r}"
    if why:
        raise InputError(f"{heard} = {meant} cannot be learned", todo=why)
    return heard, meant


def learn(settings: Settings, pair: Pair) -> Path:
    """Write a pair into the profile, every other line of it untouched; give the profile's path.

    Raises:
        InputError: there is no profile, it cannot be read or written, or would not read back.
    """
    import tomlkit

    path = (settings.home / PROFILE_NAME).resolve()
    if not settings.has_profile:
        raise InputError("there is no profile yet", path, "make one with `cowlnote begin`")
    try:
        text = path.read_bytes().decode("utf-8")
        document = tomlkit.parse(text)
        document.setdefault("heard", tomlkit.table())[pair[0]] = pair[1]
        made = tomlkit.dumps(document)
        if pair not in read_profile(made, path, settings.zone).heard:
            raise InputError("the pair could not be written", path, "write it in by hand")
        written.whole(path, made.encode())
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", path, "check who may write there"
        ) from None
    return path


def evidence(one: Lesson) -> str:
    """Say how often a pair was decided which way, and where."""
    told = [f"confirmed {_places(one.confirmed)}" if one.confirmed else "never confirmed"]
    if one.rejected:
        told.append(f"rejected {_places(one.rejected)}")
    if one.amended:
        told.append(f"value put right {_places(one.amended)}")
    if one.elsewhere:
        told.append(f"heard and not read back {_places(one.elsewhere)}")
    return "; ".join(told)


def _places(places: Sequence[Place]) -> str:
    from desk.say import clock

    shown = ", ".join(f"{p.memo} {clock(p.second)}" for p in places[:MOST])
    more = f" and {len(places) - MOST} more" if len(places) > MOST else ""
    return f"{len(places)}x ({shown}{more})"
