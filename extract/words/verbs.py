"""Forms of a verb: *clean* to *cleaned*, *cut* to *cut*, *shut* to *shutting*."""

from __future__ import annotations

from collections.abc import Callable

from extract.words.lists import table

_IRREGULAR: dict[str, list[str]] = table("verbs")["past"]
_VOWELS = "aeiou"


def done_forms(verb: str) -> tuple[str, ...]:
    """Give the past and the participle of a verb's base form."""
    if verb in _IRREGULAR:
        return tuple(_IRREGULAR[verb])
    if verb.endswith("e"):
        return (verb + "d",)
    if verb.endswith("y") and verb[-2] not in _VOWELS:
        return (verb[:-1] + "ied",)
    return (_doubled(verb) + "ed",)


def bare_forms(verb: str) -> tuple[str, ...]:
    """Give the base form and the *ing* form of a verb."""
    if verb.endswith("e") and not verb.endswith("ee"):
        return verb, verb[:-1] + "ing"
    return verb, _doubled(verb) + "ing"


def done_row(row: str) -> str:
    """Give a row of cue words with its first verbs in their past."""
    return _with(row, done_forms)


def bare_row(row: str) -> str:
    """Give a row of cue words with its first verbs in base and *ing* form."""
    return _with(row, bare_forms)


def _with(row: str, forms: Callable[[str], tuple[str, ...]]) -> str:
    verbs, _, rest = row.partition(" ")
    made = "|".join(form for verb in verbs.split("|") for form in forms(verb))
    return f"{made} {rest}".strip()


def _doubled(verb: str) -> str:
    """*shut* doubles its last letter, *clean* and *open* do not."""
    short = sum(c in _VOWELS for c in verb) == 1 and len(verb) > 2
    closed = verb[-1] not in _VOWELS + "wxy" and verb[-2] in _VOWELS
    return verb + verb[-1] if short and closed else verb
