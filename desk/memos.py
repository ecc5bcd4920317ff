"""The memos of a job to drafts: each read once, and a correction read with what it corrects.

Who records hands-free pauses, and the pause cuts the memo: *torqued to seventy* ends one,
*negative, seventeen* begins the next. Alone the second says nothing; so a memo that begins with a
correction, soon after another, is read together with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache

from capture.observed import Hearing, Transcript, Word
from extract.read import read_memo, statements_of
from extract.settle.opening import takes_up
from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from extract.values.known import Known
from record.jobs import is_weak

# So soon after the end of a memo the next one may take up what it said. Common practice, no source.
SOON = timedelta(seconds=60)
REMEMBERED = 512  # memos whose drafts are kept in memory: a job is drafted anew with each new memo


def read_memos(memos: Sequence[Transcript], catalogue: Catalogue, known: Known) -> list[Draft]:
    """Give the drafts of memos, those of each with its own name and seconds."""
    made: list[Draft] = []
    for group in _groups(memos, catalogue):
        if len(group) == 1:
            made += _read(group[0], catalogue, known)
        else:
            made += _parted(_read(_joined(group), catalogue, known), group)
    return made


@lru_cache(maxsize=REMEMBERED)
def _read(memo: Transcript, catalogue: Catalogue, known: Known) -> tuple[Draft, ...]:
    return read_memo(memo, catalogue, known)


@lru_cache(maxsize=REMEMBERED)
def _takes_up(words: tuple[Word, ...], catalogue: Catalogue) -> bool:
    return bool(words) and takes_up(statements_of(words, catalogue, None))


def _groups(memos: Sequence[Transcript], catalogue: Catalogue) -> list[list[Transcript]]:
    """Put each memo that takes up another behind it; the others stand alone, in their order."""
    groups: list[list[Transcript]] = []
    for memo in memos:
        before = next((g for g in reversed(groups) if _follows(g[-1], memo)), None)
        if before is not None and any(_takes_up(h.words, catalogue) for h in memo.hearings):
            before.append(memo)
        else:
            groups.append([memo])
    return groups


def _follows(before: Transcript, memo: Transcript) -> bool:
    """Tell whether a memo began soon after another ended, by clocks good enough to tell."""
    if before.began is None or memo.began is None or is_weak(before.began) or is_weak(memo.began):
        return False
    gap = memo.began.at - (before.began.at + timedelta(seconds=before.duration_s))
    return -timedelta(seconds=2) <= gap <= SOON


def _joined(group: Sequence[Transcript]) -> Transcript:
    """Make one transcript of memos that follow each other, heard in the ways of the last."""
    hearings = []
    for told in group[-1].hearings:
        words: list[Word] = []
        for memo, at in zip(group, _starts(group), strict=True):
            alike = [
                h for h in memo.hearings if (h.model, h.settings) == (told.model, told.settings)
            ]
            for word in (alike or memo.hearings)[0].words if memo.hearings else ():
                words.append(replace(word, start_s=word.start_s + at, end_s=word.end_s + at))
        hearings.append(Hearing(told.model, told.settings, tuple(words)))
    speech = tuple(
        (start + at, end + at)
        for memo, at in zip(group, _starts(group), strict=True)
        for start, end in memo.speech
    )
    first = group[0]
    length = _starts(group)[-1] + group[-1].duration_s
    return Transcript(first.media, length, tuple(hearings), speech, first.began)


def _starts(group: Sequence[Transcript]) -> list[float]:
    """Give at which second of the whole each memo begins; none begins before one has ended."""
    starts: list[float] = []
    for memo in group:
        since = (memo.began.at - group[0].began.at).total_seconds()  # type: ignore[union-attr]
        ended = starts[-1] + group[len(starts) - 1].duration_s if starts else 0.0
        starts.append(max(since, ended))
    return starts


def _parted(drafts: Sequence[Draft], group: Sequence[Transcript]) -> list[Draft]:
    """Give drafts of joined memos back to the memo in which each was said."""
    starts = _starts(group)
    made = []
    for draft in drafts:
        number = max((n for n, at in enumerate(starts) if at <= (draft.start or 0.0)), default=0)
        memo, at = group[number], starts[number]
        start = max(0.0, (draft.start or 0.0) - at)
        end = max(start, (draft.end or 0.0) - at)
        made.append(
            replace(draft, media=memo.media, start=start, end=end, said_at=memo.moment(start))
        )
    return made
