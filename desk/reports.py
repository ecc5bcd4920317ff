"""A laboratory's printed report, read off a photo and decided figure by figure by a person."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import InputError
from desk import engines, say
from record.printed import read_lines, rows_of
from record.reports import level
from record.rules import metals

if TYPE_CHECKING:
    from desk.settings import Settings


def read_photo(photo: Path, settings: Settings) -> tuple[dict[str, str], tuple[str, ...]]:
    """Give figures by symbol as read off a photo, and the lines that were not taken.

    Nothing is recorded. Raises `InputError` for a file that is no picture, `ModelMissingError`.
    """
    from capture.vault import kind_of

    if not photo.is_file() or kind_of(photo) != "photo":
        raise InputError("is no photo", photo, "name a photo of the printed report")
    seen = engines.LateEye(settings).read(photo, photo.name)
    return read_lines(rows_of(seen.readings))


def decide_figures(figures: Mapping[str, str]) -> dict[str, str]:
    """Ask for each figure: an empty answer confirms it, a figure amends it, `-` leaves it out.

    Raises `InputError` where none is left, `EOFError` where nobody answers.
    """
    decided: dict[str, str] = {}
    for symbol, text in figures.items():
        while True:
            question = f"  {metals()[symbol].name} ({symbol}) {text} ppm: enter, figure, or -?"
            answer = say.ask(question)
            if answer == "-":
                break
            try:
                decided[symbol] = level(answer or text).text
                break
            except InputError as error:
                say.complain(str(error))
    if not decided:
        raise InputError(
            "no figure is left", todo="enter the report by hand with `cowlnote lab add`"
        )
    return decided
