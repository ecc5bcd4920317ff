"""Moonshine models in onnxruntime's form: another make of ear, trained on other data.

It reads the waveform itself, so a piece costs its own length only. As it comes it writes numbers
as figures, and to rule those out, as for Whisper, makes it break off or repeat itself; with the
adapter of this project it writes them as words, as they were said (docs/hearing.md).
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from capture.adapter import BESIDE
from capture.audio import RATE, Samples
from capture.engine import Heard, Timed
from capture.errors import ModelMissingError
from capture.moonshine_decoder import BEGIN, END, Decoder, Said
from capture.moonshine_weights import Array, Tensors

FRAME_S = 384 / RATE
"""The encoder gives a frame every 384 samples: its convolutions step by 64, 3 and 2."""
LEAST_S = 0.5
TOKENS_PER_S = 6.5
LETTERS = 259
"""The tokens before this one are single bytes, for signs that no word of English needs."""
REPEATS, UNLIKELY = 2.2, -1.0
HELD_BACK = -0.5
"""What a text must be likelier than that it was not let end before its first word: real people's
digits had -0.25 and more so, noise of many kinds -0.54 and less, or a single word."""
HEADS = ((4, 2), (5, 5), (5, 6), (6, 1), (6, 4))
"""(layer, head) that look where the token is spoken: of 64, those nearest to the middle of the word
in the timed hearing of another model (median 0.05 to 0.08 s off; the median of all is over 0.3)."""


def texts(raw: bytes) -> list[str]:
    """Read a token table: each token's bytes with their length before them; `▁` begins a word."""
    found, at = [], 0
    while at < len(raw):
        length, at = raw[at], at + 1
        if length >= 128:
            length, at = length - 128 + 128 * raw[at], at + 1
        found.append(raw[at : at + length].decode("utf-8", "replace").replace("▁", " "))
        at += length
    return found


class Moonshine:
    """A model loaded from its folder. Loading takes about a second and 250 MB."""

    def __init__(self, folder: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        options.enable_cpu_mem_arena = False  # it keeps the most that any piece took
        self._kept: list[onnxruntime.OrtValue] = []  # the session reads them where they lie
        try:
            self._texts = texts((folder / "tokenizer.bin").read_bytes())
            keep = [
                i
                for i, text in enumerate(self._texts)
                if i >= LETTERS and text.isascii() and not text.startswith("  ")
            ]
            encoder, learnt = folder / "encoder_model.ort", folder / BESIDE
            adapter = learnt if learnt.is_file() else None
            if adapter:
                for name, array in Tensors(encoder, adapter).changed():
                    self._kept.append(onnxruntime.OrtValue.ortvalue_from_numpy(array))
                    options.add_initializer(name, self._kept[-1])
            self._encoder = onnxruntime.InferenceSession(
                str(encoder), options, providers=["CPUExecutionProvider"]
            )
            self._decoder = Decoder(
                folder / "decoder_model_merged.ort", [BEGIN, END, *keep], adapter=adapter
            )
        except Exception as error:
            raise ModelMissingError(
                f"the speech model cannot be loaded ({type(error).__name__})",
                folder,
                "run `cowlnote models get`",
            ) from error

    def hear(self, piece: Samples, tail_s: float | None = None, words: Sequence[str] = ()) -> Heard:
        """Decode float32 samples of at most 30 s; it takes no tail and no words."""
        least = round(LEAST_S * RATE)
        sound = np.pad(piece, (0, max(0, least - len(piece)))).astype(np.float32)
        (frames,) = self._encoder.run(None, {"input_values": sound[None]})[0]
        longest, bound = round(2 + len(sound) / RATE * TOKENS_PER_S), UNLIKELY
        said = self._decoder.decode(frames, longest)
        if not said.tokens:  # of a row of bare digits one in ten ended so, and in noise all do
            said, bound = self._decoder.decode(frames, longest, least=1), HELD_BACK
        made = self._words(said)
        if bound == HELD_BACK and len(made) < 2:
            return Heard(())
        text = " ".join(word for word, *_ in made).encode()
        repeats = len(text) / len(zlib.compress(text)) if text else 0.0
        likely = sum(said.likely) / max(1, len(said.likely))
        return Heard(made, repeats > REPEATS or likely < bound)

    def _words(self, said: Said) -> tuple[Timed, ...]:
        """Join tokens to words, with their times and the least probability of their tokens."""
        if not said.tokens:
            return ()
        edges = times(np.stack([said.where[:, k, h] for k, h in HEADS]).mean(axis=0))
        made: list[Timed] = []
        rows = zip(said.tokens, said.likely, pairwise(edges), strict=True)
        for token, likely, (start, end) in rows:
            text, p = self._texts[token], float(np.exp(likely))
            if made and not text.startswith(" "):
                before, first, _, least = made[-1]
                sure = min(least, p) if text.strip(" ,.?!") else least
                made[-1] = (before + text, first, end, sure)
            else:
                made.append((text.strip(), start, end, p))
        return tuple(one for one in made if one[0].strip(" ,.?!-"))


def times(looks: Array) -> list[float]:
    """Give the seconds at which tokens begin, and the end of the last, from (tokens, frames).

    Each frame is given to one token, in order, so that the tokens look at their own frames as much
    as can be (dynamic time warping).
    """
    tokens, frames = looks.shape
    if not tokens:
        return [0.0]
    best = np.full(tokens, -np.inf)
    best[0] = 0.0
    moved = np.zeros((frames, tokens), bool)
    for at in range(frames):
        before = np.concatenate(([-np.inf], best[:-1]))
        if at:
            moved[at] = before > best
            best = np.where(moved[at], before, best)
        best = best + looks[:, at]
    edges = [frames * FRAME_S]
    token = int(np.argmax(best)) if tokens > frames else tokens - 1
    edges += [frames * FRAME_S] * (tokens - 1 - token)
    for at in range(frames - 1, -1, -1):
        if moved[at, token]:
            edges.append(at * FRAME_S)
            token -= 1
    edges.append(0.0)
    return edges[::-1]
