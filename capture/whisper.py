"""Whisper models in CTranslate2 form: a piece of sound to words with times and probabilities.

Built on faster-whisper's model, tokenizer and word alignment, one level below its `transcribe`, for
three things that it does not offer: a piece shorter than half a minute costs only its own length,
the tokens that no plain English word needs are ruled out, and the signs of an invented text are
seen.
"""

from __future__ import annotations

import hashlib
import re
import threading
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from capture.audio import RATE, Samples
from capture.cores import CORES
from capture.engine import Heard, Timed
from capture.errors import ModelMissingError

PLAIN = re.compile(r"[A-Za-z' ,.?!-]*")
ROMAN = re.compile(r"[ -]*(I{2,}|I?V|VI+|I?X|XI+|X{2,}|XV|MM+)")
"""With figures ruled out, a model may flee into Roman ones."""

WINDOW_S, LEAST_S = 30.0, 12.0
"""The models' own half minute, and the least that they are given: in less, they repeat a short text
("five five, five five" for "five five", in a real person's recording)."""
BEAM = 5
TOKENS_PER_S = 8
REPEATS = 2.2
"""A text that packs better than this repeats itself (the figure is Whisper's own)."""


def invented(words: Sequence[Timed], silent: float, likely: float, repeats: float) -> bool:
    """Say whether a text is more likely made up than heard.

    `silent` is the model's own probability that nobody spoke, `likely` its mean log probability a
    token, `repeats` how well the text packs. The bounds lie between what silence (0.9, -0.86) and
    hangar noise and tones (silent 0.46 or more, likely -1.1 or less) gave and what speech at 5 dB
    gave (0.51 and -0.84 at the worst). A hint that was only repeated is found by its words' own
    probability, for they are aligned without the hint.
    """
    sure = sum(p for *_, p in words) / max(1, len(words))
    return (
        repeats > REPEATS
        or (silent > 0.45 and likely < -1.0)
        or (silent > 0.8 and likely < -0.8)
        or likely < -1.6
        or sure < 0.1
    )


def outlawed(decode: Any, size: int) -> list[int]:
    """Give the tokens, of `size` text tokens, that hold a figure, a sign or a foreign letter.

    Without figures a model writes numbers as they were said, word for word; what figures they make
    is then for a reader that can be tested, and not for the model's taste.
    """
    texts = ((token, decode([token])) for token in range(size))
    return [t for t, text in texts if not PLAIN.fullmatch(text) or ROMAN.fullmatch(text)]


class Whisper:
    """A model loaded from its folder. Loading takes about a second and 100 to 200 MB.

    Each hearing keeps to one core: two threads in one hearing meet at every small step of the
    decoder and spent a quarter of their time waiting there. Several may be made at once.
    """

    def __init__(self, folder: Path) -> None:
        from faster_whisper import WhisperModel
        from faster_whisper.tokenizer import Tokenizer

        try:
            self._model = WhisperModel(
                str(folder),
                device="cpu",
                compute_type="int8",
                cpu_threads=1,
                num_workers=CORES,
            )
        except (RuntimeError, ValueError, OSError) as error:
            raise ModelMissingError(
                f"the speech model cannot be loaded ({error})", folder, "name another folder"
            ) from error
        self._tokens = Tokenizer(
            self._model.hf_tokenizer,
            self._model.model.is_multilingual,
            task="transcribe",
            language="en",
        )
        tokens = self._tokens
        never = {*tokens.non_speech_tokens, tokens.sot, tokens.sot_prev, tokens.sot_lm}
        never |= {tokens.no_speech, *outlawed(self._model.hf_tokenizer.decode, tokens.eot)}
        self._never = sorted(never)
        self._own = threading.local()

    def hear(self, piece: Samples, tail_s: float | None = None, words: Sequence[str] = ()) -> Heard:
        """Decode float32 samples of at most 30 s.

        `tail_s` is the silence put after them; None fills the half minute that the model was
        trained on, and is the fallback where a shorter one made the model repeat itself. `words`
        are shown to the model as if said before: plain words only, never a value.
        """
        heard, repeats = self._decode(piece, tail_s, words)
        if tail_s is not None and repeats > REPEATS:
            return self._decode(piece, None, ())[0]
        return heard

    def _decode(
        self, piece: Samples, tail_s: float | None, words: Sequence[str]
    ) -> tuple[Heard, float]:
        """Give what is heard, and how well its text packs."""
        whole = round(WINDOW_S * RATE)
        piece = piece[:whole]
        room = whole
        if tail_s is not None:
            room = min(whole, max(round(LEAST_S * RATE), len(piece) + round(tail_s * RATE)))
        room -= room % 320  # the model sees two hops of 160 samples at once
        encoded = self._encode(np.pad(piece, (0, max(0, room - len(piece)))))
        prompt = [*self._tokens.sot_sequence, self._tokens.no_timestamps]
        if words:
            hint = self._tokens.encode(" " + ", ".join(words) + ".")[:200]
            prompt = [self._tokens.sot_prev, *hint, *prompt]
        longest = len(prompt) + 12 + round(len(piece) / RATE * TOKENS_PER_S)
        made = self._model.model.generate(
            encoded,
            [prompt],
            beam_size=BEAM,
            max_length=min(448, 2 * longest),  # the engine gives a text at most half of it
            suppress_tokens=self._never,
            return_scores=True,
            return_no_speech_prob=True,
        )[0]
        tokens = made.sequences_ids[0]
        text = self._tokens.decode(tokens).strip().encode()
        repeats = len(text) / len(zlib.compress(text)) if text else 0.0
        aligned = self._align(tokens, encoded, min(room, len(piece)) // 160) if text else ()
        silent, likely = float(made.no_speech_prob), float(made.scores[0])
        return Heard(aligned, invented(aligned, silent, likely, repeats)), repeats

    def _encode(self, padded: Samples) -> Any:
        """Encode a piece, the dearer half of a hearing, or give what this thread last made."""
        key = hashlib.blake2b(padded.tobytes()).digest()
        if getattr(self._own, "key", b"") != key:
            features = self._model.feature_extractor(padded)[:, : len(padded) // 160]
            self._own.key, self._own.encoded = key, self._model.encode(features)
        return self._own.encoded

    def _align(self, tokens: list[int], encoded: Any, frames: int) -> tuple[Timed, ...]:
        found = self._model.find_alignment(self._tokens, [list(tokens)], encoded, frames)[0]
        joined: list[list[Any]] = []
        for part in found:
            text, p = part["word"], float(part["probability"])
            if joined and not text.startswith(" "):  # "twenty" + "-three", "oil" + "."
                joined[-1][0] += text
                joined[-1][2] = float(part["end"])
                joined[-1][3] = min(joined[-1][3], p) if text.strip(" ,.?!") else joined[-1][3]
            else:
                joined.append([text, float(part["start"]), float(part["end"]), p])
        return tuple((t.strip(), a, b, p) for t, a, b, p in joined if t.strip(" ,.?!-"))
