"""Where somebody speaks: stretches of voice found in hours of hangar, in bounded memory."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from capture.audio import RATE, Samples, as_float
from capture.tape import blocks

Span = tuple[float, float]
"""A stretch as (start, end) in seconds."""

BLOCK_S = 120
THRESHOLD, NARROW = 0.4, 0.15
"""How likely it must be that somebody speaks; and in the band of a telephone, of which the finder
makes less: at 0.4 all models heard "five six" for a real person's "two eight five six"."""
NARROW_END = 0.1
"""Less likely than this, speech in that band has ended."""
BAND_HZ, BAND_SHARE = 4500, 1e-4
"""Sound has a telephone's band if less of its power than this lies above: of recordings sampled at
8 kHz it was 6e-6 at the most, of others 9e-4 at the least."""
PAUSE_MS = 300
PAD_MS = 100
SHORTEST_MS = 100


def find_speech(samples: Samples, base_s: float = 0.0) -> Iterator[Span]:
    """Give the stretches of speech of a recording, in order and apart, padded by 0.1 s.

    Reads two minutes at a time; a stretch across such a border is one. The finder is Silero's
    voice-activity network, which faster-whisper carries.
    """
    from faster_whisper.vad import VadOptions, get_speech_timestamps

    options = VadOptions(
        min_silence_duration_ms=PAUSE_MS,
        min_speech_duration_ms=SHORTEST_MS,
        speech_pad_ms=PAD_MS,
    )
    waiting: Span | None = None
    for first, block in blocks(samples, BLOCK_S * RATE):
        narrow = is_narrow(block)
        options.threshold = NARROW if narrow else THRESHOLD
        options.neg_threshold = NARROW_END if narrow else None
        for found in get_speech_timestamps(as_float(block), options):
            start = base_s + (first + found["start"]) / RATE
            end = base_s + (first + found["end"]) / RATE
            if waiting and start - waiting[1] < 0.05:
                waiting = (waiting[0], end)
                continue
            if waiting:
                yield waiting
            waiting = (start, end)
    if waiting:
        yield waiting


def is_narrow(samples: Samples) -> bool:
    """Say whether samples at 16 kHz came through a telephone, or were taken at 8 kHz."""
    power = np.abs(np.fft.rfft(as_float(samples))) ** 2
    above = power[round(len(power) * 2 * BAND_HZ / RATE) :].sum()
    return bool(above < BAND_SHARE * power.sum())


def gather(spans: list[Span], longest_s: float, pause_s: float) -> list[list[Span]]:
    """Group stretches that lie at most `pause_s` apart into groups of at most `longest_s`.

    A stretch longer than that is cut, for a model hears no more at a time.
    """
    groups: list[list[Span]] = []
    for start, end in spans:
        while end - start > longest_s:
            groups.append([(start, start + longest_s)])
            start += longest_s
        last = groups[-1] if groups else None
        if last and end - last[0][0] <= longest_s and start - last[-1][1] <= pause_s:
            last.append((start, end))
        else:
            groups.append([(start, end)])
    return groups


def unheard(spans: list[Span], words: list[Span], least_s: float) -> list[Span]:
    """Give the parts of stretches that no word covers, if they last at least `least_s`.

    A model now and then passes over whole sentences of a window; these are where to listen again.
    """
    left = []
    for start, end in spans:
        at = start
        for first, last in sorted(words):
            if last <= at or first >= end:
                continue
            if first - at >= least_s:
                left.append((at, first))
            at = max(at, last)
        if end - at >= least_s:
            left.append((at, end))
    return left
