"""What is new in the drafts since it was last read back: said, put right, taken back, doubted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from desk.drafting import OFFERED
from desk.readback import wording
from desk.readback.journal import Item
from desk.readback.wording import Line
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS, likeness
from extract.values.draft import Draft

Slot = tuple[str, str]
LIKE = 0.5  # two findings that share so many of their telling words are one, heard twice


@dataclass(frozen=True, slots=True)
class Source:
    """What was just heard: the name of the memo or photo, and from which second on it is new."""

    name: str
    from_s: float = 0.0


def told(items: Iterable[Item]) -> dict[Slot, Line]:
    """Give what was last told of each field and place; what was taken back is left out."""
    made: dict[Slot, Line] = {}
    for item in items:
        for line in item.lines:
            if line.field:
                made[line.field, _place(line)] = line
    return {slot: line for slot, line in made.items() if line.value}


def _place(line: Line) -> str:
    # findings have no place until they are queued; their words tell them apart
    return (line.value.lower() or line.place) if line.field in FINDINGS else line.place


def news(
    before: Mapping[Slot, Line],
    drafts: Sequence[Draft],
    catalogue: Catalogue,
    source: Source | None,
) -> list[Line]:
    """Give the lines to read back, in the order of the drafts.

    With a `source` it is a first hearing: what is said anew in it is read back also where it is
    the same. Without one the drafts are of the full hearings: only what differs is told.
    """
    lines: list[Line] = []
    left = dict(before)
    for draft in drafts:
        if OFFERED in draft.doubts:
            continue
        line = wording.line(draft, catalogue)
        slot = _same_finding(left, line) or (line.field, _place(line))
        old = left.pop(slot, None)
        if old is None:
            lines.append(line)
        elif not _same(draft, old, catalogue):
            lines.append(_instead(line, old, source is None))
        elif _asked_otherwise(line, old) or (source is not None and _anew(draft, source)):
            lines.append(line)
    for old in left.values():
        lines.append(_gone(old, catalogue, source is None))
    return lines


def _same(draft: Draft, old: Line, catalogue: Catalogue) -> bool:
    kind = catalogue.fields[draft.name].kind_object
    if draft.name in FINDINGS:
        return old.value.partition(":")[0] == str(draft.value).partition(":")[0]
    return kind.same(draft.value, kind.load(old.value))


def _same_finding(left: Mapping[Slot, Line], line: Line) -> Slot | None:
    if line.field not in FINDINGS:
        return None
    for slot, old in left.items():
        if old.field == line.field and likeness(old.value, line.value) >= LIKE:
            return slot
    return None


def _asked_otherwise(line: Line, old: Line) -> bool:
    """Tell whether a doubt came, went, or is another; a value that holds is told once."""
    return line.doubt != old.doubt or (line.doubt and line.say != _plain(old))


def _plain(line: Line) -> str:
    """Give what was said of a line without what was said of its being put right."""
    for name in ("corrected", "changed"):
        front = wording.sentence(name, say="").strip()
        if front and line.say.startswith(front):
            return line.say[len(front) :].strip()
    return line.say


def _instead(line: Line, old: Line, again: bool) -> Line:
    way = "changed" if again else "corrected"
    say = line.say if line.doubt else wording.sentence(way, say=line.say)
    return replace(line, say=say, was=old.text)


def _gone(old: Line, catalogue: Catalogue, again: bool) -> Line:
    field = catalogue.fields.get(old.field)
    place = int(old.place) if old.place.isdigit() else old.place or None
    name = wording.label(old.field, place, catalogue, said=True) if field else old.field
    say = wording.sentence("lost" if again else "gone", name=name)
    return Line(old.field, _place(old), "", say.rstrip("."), say, again, old.text)


def _anew(draft: Draft, source: Source) -> bool:
    """Tell whether a draft has a witness in what was just heard."""
    witnesses = [(draft.media, draft.start), *((e.media, e.start) for e in draft.also)]
    return any(
        media == source.name and (start is None or start >= source.from_s - 0.3)
        for media, start in witnesses
    )
