"""What an ear gives and what it must be able to: the seam behind which each make of it lies.

A make of ear is one file with one class, and one line in `MAKES`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Protocol, cast

from capture.audio import Samples
from capture.errors import ModelMissingError

Timed = tuple[str, float, float, float]
"""A word as (text, start_s, end_s, probability)."""

MAKES = {
    ("model.bin", "tokenizer.json"): ("capture.whisper", "Whisper"),
    ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"): (
        "capture.moonshine",
        "Moonshine",
    ),
}
"""By the files that a model's folder must hold: the module and the class that open it."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What one model made of one piece of sound: its words, in order.

    `invented` says that the text was more likely made up than heard, by the model's own signs.
    """

    words: tuple[Timed, ...]
    invented: bool = False


class Engine(Protocol):
    """One speech model, loaded from its folder; it works on one core."""

    def hear(self, piece: Samples, tail_s: float | None = None, words: Sequence[str] = ()) -> Heard:
        """Decode float32 samples at 16 kHz, of at most 30 s.

        `tail_s` is the silence put after them, None for what the model was trained on; `words` are
        shown as if said before. A make that has no use for these passes over them.
        """


def lacking(folder: Path) -> str:
    """Give the file for whose lack a folder is no model, or an empty text where it may be one."""
    misses = [[name for name in names if not (folder / name).is_file()] for names in MAKES]
    return "" if [] in misses else min(misses, key=len)[0]


def load(folder: Path) -> Engine:
    """Load the model in a folder, of whichever make it is; raises ModelMissingError."""
    for names, (module, name) in MAKES.items():
        if all((folder / file).is_file() for file in names):
            return cast(Engine, getattr(import_module(module), name)(folder))
    raise ModelMissingError(
        f"not a speech model: {lacking(folder)} is missing", folder, "name another folder"
    )
