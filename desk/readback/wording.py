"""A draft in the words of the read-back: for the eye and for the ear, sure or asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from desk.answers import WHICH
from desk.readback import spoken
from extract.values.catalogue import Catalogue, Field
from extract.values.draft import SAID_BEFORE, Alternative, Draft, Position, Value
from extract.values.units import convert, shown, typed

# Other readings less likely than this are not offered: they are what was corrected, or faint.
LEAST = 0.15
MOST_OTHERS = 2
PHOTO_DIFFERS = "the photo and what was said differ"  # how extract.witness.fuse says so


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a read-back: `text` is seen, `say` is heard.

    `place` is the position as text; `value` is what was told, as the record stores it; `why` are
    the reasons for a doubt; `was` is what it takes the place of, as it was shown.
    """

    field: str
    place: str
    value: str
    text: str
    say: str
    doubt: bool = False
    was: str = ""
    why: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Give it as the phone is told it."""
        return {
            "text": self.text,
            "say": self.say,
            "field": self.field,
            "place": self.place,
            "doubt": self.doubt,
            "was": self.was,
            "why": list(self.why),
        }


def wording(name: str) -> Mapping[str, Any]:
    """Give how a field is said; of one that is not in the file, nothing."""
    found: Mapping[str, Any] = spoken.words()["fields"].get(name, {})
    return found


def sentence(which: str, /, **values: str) -> str:
    """Give one of the sentences of the file, filled in."""
    return str(spoken.words()["sentences"][which]).format(**values)


def label(name: str, position: Position, catalogue: Catalogue, *, said: bool = False) -> str:
    """Give a field in a word or two, with its place; `said` as it is spoken."""
    told = wording(name)
    field = catalogue.fields[name]
    text = str((told.get("name") if said else None) or told.get("short") or field.label)
    place = place_of(position)
    if "{position}" not in text:
        # findings are numbered, and a number that nobody said is not read to anyone
        return f"{text}, {place}" if place and field.positions else text
    if not place:
        text = text.replace(", {position}", "").replace("{position} ", "")
    text = text.format(position=place).strip()
    return text[:1].upper() + text[1:]


def place_of(position: Position) -> str:
    """Give a position as it is said: `three`, `nose`; empty for none."""
    if position is None:
        return ""
    return spoken.cardinal(position) if isinstance(position, int) else str(position)


def value_said(draft: Draft, value: Value, field: Field, *, unit: bool = True) -> str:
    """Give a value in words, with its unit; `value` is the draft's own or another reading of it."""
    told = wording(field.name)
    if isinstance(value, bool):
        return str(told.get("yes" if value else "no", "yes" if value else "no"))
    if isinstance(value, date):
        return spoken.day(value)
    if not isinstance(value, Decimal):
        ways = {"code": spoken.code, "grade": spoken.grade}
        way = ways.get(str(told.get("how")))
        return way(value) if way else str(told.get(value, value))
    number, named = _as_told(draft, value, field)
    return _number(number, named if unit else "", str(told.get("how", "count")), field)


def _as_told(draft: Draft, value: Decimal, field: Field) -> tuple[Decimal, str]:
    """Give number and unit as they were said, else in the owner's unit, rounded as shown."""
    if draft.said and value == draft.value:
        text, unit = typed(draft.said)
        if unit:
            return Decimal(text.replace(",", "").strip()), unit
        number, _, unit = draft.said.partition(" ")
        return Decimal(number), unit
    if field.unit is None or field.own is None:
        return value, field.unit or ""
    own = shown(convert(value, field.unit, field.own), field.own)
    return Decimal(own.split()[0]), field.own


def _number(number: Decimal, unit: str, how: str, field: Field) -> str:
    if how == "digits":
        # a counter's tenths are said also where they are none, or its figures would be too few
        least = max(field.decimals or 0, -int(number.as_tuple().exponent))
        return spoken.digits(number.quantize(Decimal(1).scaleb(-least)))
    if how == "over" and field.over is not None:
        return f"{spoken.count(number)} over {spoken.count(field.over)}"
    if how == "thousandths" and unit in ("in", "thou", "mil", ""):
        thou = number * 1000 if number < 1 else number
        plain = thou.quantize(Decimal(1)) if thou == thou.to_integral_value() else thou.normalize()
        return spoken.counted(plain, "thou" if unit else "")
    if how == "quarts" and unit:
        return spoken.measure(number, unit)
    return spoken.counted(number, unit)


def line(draft: Draft, catalogue: Catalogue, was: str = "") -> Line:
    """Give the read-back of a draft: what holds, or, where it is doubtful, what it may be."""
    field = catalogue.fields[draft.name]
    name = label(draft.name, draft.position, catalogue, said=True)
    # of which of several a value was said by itself, only its name tells
    which = "_which" if any(WHICH in str(doubt) for doubt in draft.doubts) else ""
    others = other_readings(draft, field)
    seen = shown_value(draft, draft.value, field)
    whole = _whole(draft)
    text = whole.rstrip(".") or f"{label(draft.name, draft.position, catalogue)} {seen}"
    if not draft.doubts:
        say = statement(draft, catalogue)
    elif others and (told_apart := _apart(draft, others, field)):
        photo, spoken_ = (value_said(draft, v, field, unit=False) for v in told_apart)
        say = sentence("differ", name=name, photo=photo, spoken=spoken_)
        text += f", or {shown_value(draft, others[0].value, field)}"
    elif others:
        told = [value_said(draft, a.value, field, unit=False) for a in others]
        value = value_said(draft, draft.value, field, unit=False)
        say = sentence(f"doubtful{which}", name=name, value=value, other=", or ".join(told))
        text += "".join(f", or {shown_value(draft, a.value, field)}" for a in others)
    else:
        say = sentence(f"unsure{which}", name=name, value=value_said(draft, draft.value, field))
    return Line(
        draft.name,
        "" if draft.position is None else str(draft.position),
        field.kind_object.store(draft.value),
        text,
        say,
        bool(draft.doubts),
        was,
        tuple(str(doubt) for doubt in draft.doubts),
    )


def _apart(draft: Draft, others: Sequence[Alternative], field: Field) -> tuple[Value, Value] | None:
    """Give what the photo reads and what was said, where the doubt is that these differ."""
    if not any(str(doubt).startswith(PHOTO_DIFFERS) for doubt in draft.doubts):
        return None
    on_photo = [a for a in others if a.why.startswith("on ")]
    if draft.quad is not None:
        return draft.value, others[0].value
    return (on_photo[0].value, draft.value) if on_photo else None


def of_photo(line: Line, drafts: Sequence[Draft], photo: str, catalogue: Catalogue) -> Line:
    """Give a line as a photo's answer, where it is sure and the photo bears it out."""
    for draft in drafts:
        place = "" if draft.position is None else str(draft.position)
        if (draft.name, place) != (line.field, line.place) or line.doubt or not line.value:
            continue
        if photo in (draft.media, *(e.media for e in draft.also)):
            field, told = catalogue.fields[draft.name], wording(draft.name)
            value = value_said(draft, draft.value, field, unit=bool(told.get("unit", True)))
            name = label(draft.name, draft.position, catalogue, said=True)
            shown = shown_value(draft, draft.value, field)
            short = label(draft.name, draft.position, catalogue)
            text = sentence("read_shown", name=short, value=shown)
            return replace(line, text=text, say=sentence("read", name=name, value=value))
    return line


def statement(draft: Draft, catalogue: Catalogue) -> str:
    """Say a value as it holds, in a sentence."""
    field, told = catalogue.fields[draft.name], wording(draft.name)
    if whole := _whole(draft):
        return whole
    name = label(draft.name, draft.position, catalogue, said=True)
    value = value_said(draft, draft.value, field, unit=bool(told.get("unit", True)))
    joined = "{name} {value}." if isinstance(draft.value, bool) else "{name}, {value}."
    place = place_of(draft.position)
    text = str(told.get("say", joined)).format(name=name, value=value, position=place)
    text = " ".join(text.split()).lstrip(", ")
    return text[:1].upper() + text[1:]


def _whole(draft: Draft) -> str:
    """Give the sentence that says a choice by itself; empty for none."""
    says = wording(draft.name).get("says", {})
    return str(says.get(draft.value, "")) if isinstance(draft.value, str) else ""


def shown_value(draft: Draft, value: Value, field: Field) -> str:
    """Give a value for the eye: in the owner's unit, of a truth or choice in its words."""
    told = wording(field.name)
    if isinstance(value, bool):
        return str(told.get("yes" if value else "no", "yes" if value else "no"))
    if isinstance(value, str):
        return str(told.get(value, value))
    return field.show(value, draft.said if value == draft.value else None)


def other_readings(draft: Draft, field: Field) -> list[Alternative]:
    """Give the other readings of a draft that are worth asking about, the likeliest first."""
    same = field.kind_object.same
    kept = [
        a
        for a in draft.alternatives
        if a.confidence >= LEAST and a.why != SAID_BEFORE and not same(a.value, draft.value)
    ]
    return sorted(kept, key=lambda a: -a.confidence)[:MOST_OTHERS]
