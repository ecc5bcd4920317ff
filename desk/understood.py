"""Memos and photos of which nothing became a draft, by name and why. Knows no screen.

A memo drowned by a propeller looks like one in which nothing happened; so each is named, and a
person can listen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from capture.clocks import spoken_clock
from capture.observed import PhotoText, Transcript
from extract.values.draft import Draft
from record.media import Media

# Fewer words a second of speech than this, over so many seconds: much was said and not understood.
# The project's own choice; people speak two to three words a second.
FEW_A_SECOND, OVER_S = 0.5, 6.0
# What a photo was taken of, in which a value is looked for; of anything else it is a picture.
SUBJECTS = {"hobbs": "hour meter", "counter": "meter"}


@dataclass(frozen=True, slots=True)
class Lost:
    """A memo or photo in which little or nothing was understood; `why` is half a sentence."""

    id: int
    name: str
    kind: str
    why: str

    @property
    def line(self) -> str:
        """Say it in one line, by the file's name."""
        return f"nothing understood in {self.name}: {self.why}; {self.do}"

    @property
    def do(self) -> str:
        """Say what to do about it."""
        return "listen to it" if self.kind == "memo" else "look at it"


def lost(
    every: Iterable[Media],
    observed: Mapping[int, Transcript | PhotoText],
    drafts: Sequence[Draft],
) -> list[Lost]:
    """Give the media of which nothing, or too little, was understood, in their order.

    `observed` is what was heard and read, by the number of the media; what was not yet heard is
    left out, and so is what is set aside.
    """
    told = {name for d in drafts for name in (d.media, *(e.media for e in d.also))}
    made = []
    for media in every:
        seen = observed.get(media.id)
        if media.aside or seen is None or media.state != "heard":
            continue
        why = _heard(seen, media.name in told) if isinstance(seen, Transcript) else ""
        if isinstance(seen, PhotoText) and media.name not in told and seen.subject != "other":
            why = (
                f"it looks like a {SUBJECTS.get(seen.subject, seen.subject)}, and no value was read"
            )
        if why:
            made.append(Lost(media.id, media.name, media.kind, why))
    return made


def _heard(memo: Transcript, told: bool) -> str:
    words = max((len(hearing.words) for hearing in memo.hearings), default=0)
    speech_s = sum(end - start for start, end in memo.speech)
    if not words:
        if not memo.speech:
            return "no voice was made out in it: silence, noise, or a voice drowned by noise"
        return f"somebody speaks for {speech_s:.0f} s and no word was understood"
    if speech_s >= OVER_S and words < FEW_A_SECOND * speech_s:
        return f"only {words} words were understood of {speech_s:.0f} s of speech"
    if told or spoken_clock(memo.words):
        return ""
    return "words were heard, and nothing in them that can be entered"
