"""What `begin` asks, at a terminal and on the page, and what becomes of it. Knows no screen."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk.profile import PROFILE_NAME, quoted, read_profile
from extract.values.units import US, Units

if TYPE_CHECKING:
    from desk.settings import Settings

Ask = Callable[[str], str]
Tell = Callable[[str], None]
REGISTRATION = "The aircraft's registration:"
ZONE = "Your time zone, as America/Chicago [{zone}]:"
SKIP = "Figures come from the maker's papers for your engine. Enter alone leaves one out."


@dataclass(frozen=True, slots=True)
class Question:
    """One question: the profile's `key`, its words, what the answer is for and where it stands.

    `kind` is text, number, range, date or choice; `of` the unit of the record whose name in the
    owner's units stands in the question; `choices` pairs what is offered with its TOML.
    """

    key: str
    ask: str
    why: str
    where: str
    kind: str
    of: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    later: bool = False

    def words(self, units: Units) -> str:
        """Give the question in the owner's units."""
        return self.ask.format(unit=units.own(self.of)) if self.of else self.ask

    def toml(self, given: str) -> str:
        """Give an answer as TOML. Raises InputError where it is none of the choices."""
        if self.kind == "choice":
            return self._chosen(given)
        if self.kind == "text":
            return quoted(given)
        if self.kind == "list":
            return f"[{', '.join(quoted(one.strip()) for one in given.split(',') if one.strip())}]"
        if self.kind == "range":
            parts = given.replace("to", " ").replace("-", " ").replace(",", " ").split()
            return f"[{', '.join(parts)}]"
        return given.replace(",", ".")

    def _chosen(self, given: str) -> str:
        offered = list(self.choices)
        if given.isdecimal() and 1 <= int(given) <= len(offered):
            return self.choices[offered[int(given) - 1]]
        found = [one for one in offered if one == given or given.lower() in _firsts(one)]
        if len(found) != 1:
            todo = f"answer {' or '.join(str(n + 1) for n in range(len(offered)))}"
            raise InputError(f"{given}: not one of them", todo=todo)
        return self.choices[found[0]]


def _firsts(choice: str) -> tuple[str, ...]:
    """Give the short ways to name a choice: what stands before its colon, or its last words."""
    head = choice.partition(":")[0].lower()
    return head, head.removeprefix("the ")


@cache
def questions() -> tuple[Question, ...]:
    """Give what `begin` asks, in its order."""
    return tuple(one for one in every() if not one.later)


@cache
def every() -> tuple[Question, ...]:
    """Give all questions in their order, from `desk/data/asked.toml`."""
    raw = tomllib.loads((Path(__file__).parent / "data" / "asked.toml").read_text("utf-8"))
    return tuple(Question(**one) for one in raw["asked"])


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
    made: dict[str, str] = {}
    tell(SKIP)
    for one in questions():
        units = _units(made)
        for number, choice in enumerate(one.choices, 1):
            tell(f"  {number} {choice}")
        while given := ask(one.words(units)):
            try:
                made[one.key] = _checked(one, given)
            except InputError as error:
                tell(str(error))
                continue
            break
    return made


def checked(given: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """Give answers as TOML by the profile's keys, and by key what will not do about the others."""
    made, wrong = {}, {}
    for one in every():
        if not (text := given.get(one.key, "").strip()):
            continue
        try:
            made[one.key] = _checked(one, text)
        except InputError as error:
            wrong[one.key] = str(error)
    return made, wrong


def _checked(one: Question, given: str) -> str:
    text = one.toml(given)
    read_profile(_line(one.key, text), Path(one.key), ZoneInfo("UTC"))
    return text


def _units(made: Mapping[str, str]) -> Units:
    if "units" not in made:
        return US
    return read_profile(_line("units", made["units"]), Path("units"), ZoneInfo("UTC")).units


def _line(key: str, text: str) -> str:
    table, _, name = key.rpartition(".")
    return f"[{table}]\n{name} = {text}\n" if table else f"{name} = {text}\n"


def file_for(here: Settings, registration: str) -> str:
    """Give the name of the profile's file: one of its own for a further aircraft of the home."""
    from desk.settings import FLEET
    from extract.exact.registration import normal_form

    own = here.profile.registration
    if not (here.has_profile and own and registration) or normal_form(own) == normal_form(
        registration
    ):
        return PROFILE_NAME
    return f"{FLEET}/{normal_form(registration)}.toml"
