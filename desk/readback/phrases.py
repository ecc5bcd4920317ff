"""A memo heard by phrases while it is still being spoken, once and quickly, for the read-back.

What is heard here is never entered or drafted: the intake hears the whole memo in every way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Protocol

from capture.observed import Hearing, Instant, Transcript, Word

Span = tuple[float, float]
# A phrase is over when nobody spoke for so long. Common practice of dictation, no source: people
# pause for less between the words of one figure.
OVER_S = 0.7
LONGEST_S = 12.0  # who speaks on without a pause is heard in pieces of this length
JOINED_S = 1.0  # stretches of speech this near each other are heard together
EDGE_S = 0.2


class QuickEar(Protocol):
    """What hears a phrase at once (`capture.transcribe.Ear`)."""

    def quick(self, samples: Any, speech: list[Span]) -> list[Word]:
        """Hear stretches of samples; words with seconds from the start of the samples."""


class Finder(Protocol):
    """What finds speech in samples (`capture.speech.find_speech`), from second `base_s` on."""

    def __call__(self, samples: Any, base_s: float = 0.0) -> Any:
        """Give (start, end) in seconds of each stretch."""


@dataclass(slots=True)
class Phrases:
    """One memo as it has been heard so far.

    `heard_s` is up to where; `last_s` where the phrase began that was heard last; `words` and
    `speech` grow with every phrase.
    """

    ear: QuickEar
    find: Finder
    words: list[Word] = field(default_factory=list)
    speech: list[Span] = field(default_factory=list)
    heard_s: float = 0.0
    last_s: float = 0.0
    length_s: float = 0.0

    def feed(self, samples: Any, *, whole: bool, rate: int = 16_000) -> bool:
        """Hear what is over in the samples of the memo so far; tell whether there was anything.

        `whole` says that no more will come. Raises ModelMissingError.
        """
        self.length_s = len(samples) / rate
        first = round(self.heard_s * rate)
        found = [tuple(one) for one in self.find(samples[first:], self.heard_s)]
        ready = found if whole else _over(found, self.length_s)
        if not ready:
            if not found:  # nobody speaks: what has been looked through is not looked at again
                self.heard_s = max(self.heard_s, self.length_s - 1.0)
            return False
        self.last_s = ready[0][0]
        self.words += self.ear.quick(samples, ready)
        self.speech += ready
        self.heard_s = self.length_s if whole else min(ready[-1][1] + EDGE_S, self.length_s)
        return True

    def transcript(self, name: str, began: Instant | None) -> Transcript:
        """Give what was heard so far as a transcript of one hearing."""
        hearing = Hearing("quick", "quick", in_order(self.words))
        return Transcript(name, self.length_s, (hearing,), tuple(self.speech), began)

    @property
    def text(self) -> str:
        """Give the words so far."""
        return " ".join(word.text for word in self.words)

    def said_at(self, began: datetime | None) -> datetime | None:
        """Give the moment at which the newest phrase began."""
        from datetime import timedelta

        return began + timedelta(seconds=self.last_s) if began else None


def _over(found: Sequence[Span], length_s: float) -> list[Span]:
    """Give the stretches of the phrases that are over, or too long to wait for."""
    if not found:
        return []
    if length_s - found[-1][1] >= OVER_S:
        return list(found)
    gaps = [i for i in range(1, len(found)) if found[i][0] - found[i - 1][1] >= OVER_S]
    if gaps:
        return list(found[: gaps[-1]])
    if found[-1][1] - found[0][0] >= LONGEST_S:
        return list(found[:-1]) or [(found[0][0], found[0][0] + LONGEST_S)]
    return []


def in_order(words: Sequence[Word]) -> tuple[Word, ...]:
    """Let no word begin before the one before it has ended."""
    made: list[Word] = []
    for word in words:
        start = max(word.start_s, made[-1].end_s if made else 0.0)
        made.append(replace(word, start_s=start, end_s=max(start, word.end_s)))
    return tuple(made)
