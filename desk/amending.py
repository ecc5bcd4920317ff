"""Write a change into an aircraft's profile, every comment of it kept. Knows no screen.

The file stays the truth: what is written is read back before it takes the place of the old one, and
a value that is not said any more becomes a comment again, so that nothing is lost without a trace.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from capture.errors import InputError
from desk import asking, written
from desk.profile import read_profile

if TYPE_CHECKING:
    from desk.settings import Settings


@dataclass(frozen=True, slots=True)
class Change:
    """One line of a profile: its key, what it said and what it says, in TOML; empty: not said."""

    key: str
    before: str
    after: str


def profile_path(here: Settings, registration: str = "") -> Path:
    """Give the path of an aircraft's profile. Raises InputError where there is none."""
    path = here.home / asking.file_for(here, registration or here.profile.registration)
    if not path.is_file():
        raise InputError("there is no profile yet", path, "make one with `cowlnote begin`")
    return path.resolve()


def said(path: Path) -> dict[str, str]:
    """Give what a profile says, as TOML by key, a key of a table as `last.date`."""
    import tomlkit
    from tomlkit.items import AoT, Table

    flat: dict[str, Any] = {}
    for key, value in tomlkit.parse(_read(path)).items():
        if isinstance(value, Table):
            flat |= {f"{key}.{name}": inner for name, inner in value.items() if key != "heard"}
        elif not isinstance(value, AoT):
            flat[key] = value
    return {key: tomlkit.item(value).as_string() for key, value in flat.items()}


def shown(question: asking.Question, toml: str) -> str:
    """Give a profile's value as a person would type it as the answer to a question."""
    if not toml:
        return ""
    for choice, written_as in question.choices.items():
        if _same(written_as, toml):
            return choice
    value = tomllib.loads(f"x = {toml}")["x"]
    if isinstance(value, list):
        return (", " if question.kind == "list" else " ").join(map(str, value))
    return str(value)


def change(here: Settings, registration: str, answers: Mapping[str, str]) -> tuple[Change, ...]:
    """Write answers, as TOML by key and empty to leave one unsaid; give what changed.

    Raises:
        InputError: there is no profile, it cannot be read or written, or would not read back.
    """
    path = profile_path(here, registration)
    text, before = _read(path), said(path)
    changes = tuple(
        Change(key, before.get(key, ""), new)
        for key, new in answers.items()
        if not _same(before.get(key, ""), new)
    )
    for one in changes:
        text = _put(text, one)
    read_profile(text, path, here.zone)
    if changes:
        _write(path, text)
    return changes


def append(here: Settings, registration: str, table: str, lines: Mapping[str, str]) -> Change:
    """Add a table of a list, such as `recurring`, at the end of a profile.

    Raises `InputError` as `change` does.
    """
    path = profile_path(here, registration)
    body = "".join(f"{key} = {value}\n" for key, value in lines.items())
    text = f"{_read(path).rstrip()}\n\n[[{table}]]\n{body}"
    read_profile(text, path, here.zone)
    _write(path, text)
    return Change(table, "", "; ".join(body.splitlines()))


def _put(text: str, one: Change) -> str:
    """Put one value into the text: over the old line, or over the comment that stands for it."""
    import tomlkit

    table, _, name = one.key.rpartition(".")
    if one.before:
        document = tomlkit.parse(text)
        place: Any = document[table] if table else document
        if one.after:
            place[name] = tomlkit.value(one.after)
            return tomlkit.dumps(document)
        return _in_section(text, table, rf"{name}\s*=", f"# {name} = {one.before}")
    made = _in_section(text, table, rf"#\s*{name}\s*=", f"{name} = {one.after}")
    if one.after and made:
        return made
    document = tomlkit.parse(text)
    place = document.setdefault(table, tomlkit.table()) if table else document
    place[name] = tomlkit.value(one.after)
    return tomlkit.dumps(document)


def _in_section(text: str, table: str, begins: str, line: str) -> str:
    """Replace the first line of a table that begins so; empty where there is none."""
    lines, at = text.splitlines(), ""
    for number, old in enumerate(lines):
        if head := re.match(r"\s*\[+\s*([\w.]+)\s*\]+", old):
            at = head.group(1)
        elif at == table and re.match(begins, old):
            return "\n".join([*lines[:number], line, *lines[number + 1 :]]) + "\n"
    return ""


def _read(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("cannot be read as text", path, str(error)) from None


def _same(one: str, other: str) -> bool:
    if not one or not other:
        return one == other
    return bool(tomllib.loads(f"x = {one}") == tomllib.loads(f"x = {other}"))


def _write(path: Path, text: str) -> None:
    try:
        written.whole(path, text.encode())
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", path, "check who may write there"
        ) from None
