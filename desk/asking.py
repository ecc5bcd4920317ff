"""What `begin` asks a person at a terminal, and what becomes of the answers. Knows no screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk.profile import quoted, read_profile

Ask = Callable[[str], str]
Tell = Callable[[str], None]
# Key of the profile, the question, and whether the answer is text (in quotes), a number, a range.
QUESTIONS = (
    ("sump_capacity", "What does the oil sump hold, in US quarts?", "number"),
    ("oil", "Which oil grade do you use (SAE 50, 20W-50)?", "text"),
    ("filter_part_number", "Part number of the oil filter that you expect to fit?", "text"),
    ("filter_torque", "Lowest and highest torque for the filter, in ft-lb, as 16 18?", "range"),
    ("last.tach_time", "What did the tach read at the last service before this record?", "number"),
    ("last.date", "On which day was that, as 2025-11-02?", "date"),
)
REGISTRATION = "The aircraft's registration:"
ZONE = "Your time zone, as America/Chicago [{zone}]:"
SKIP = "Figures come from the maker's papers for your engine. Enter alone leaves one out."


def zone_of(ask: Ask, tell: Tell, local: ZoneInfo) -> ZoneInfo:
    """Ask for the time zone until one is named that there is; Enter takes this machine's."""
    while True:
        given = ask(ZONE.format(zone=local.key))
        try:
            return ZoneInfo(given) if given else local
        except (KeyError, ValueError, OSError):
            tell(f"no such time zone: {given}")


def answers(ask: Ask, tell: Tell) -> dict[str, str]:
    """Ask for what helps reading most; give it as TOML by the profile's keys.

    An answer that will not do is said and asked for again; an empty one is left out.
    """
    made = {}
    tell(SKIP)
    for key, question, kind in QUESTIONS:
        while given := ask(question):
            text = _toml(given, kind)
            try:
                read_profile(_line(key, text), Path(key), ZoneInfo("UTC"))
            except InputError as error:
                tell(str(error))
                continue
            made[key] = text
            break
    return made


def _toml(given: str, kind: str) -> str:
    if kind == "text":
        return quoted(given)
    if kind == "range":
        parts = given.replace("to", " ").replace("-", " ").replace(",", " ").split()
        return f"[{', '.join(parts)}]"
    return given.replace(",", ".")


def _line(key: str, text: str) -> str:
    table, _, name = key.rpartition(".")
    return f"[{table}]\n{name} = {text}\n" if table else f"{name} = {text}\n"
