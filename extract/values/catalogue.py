"""The field catalogue: what can be drafted, and how people say it. All of it is data.

One TOML file a kind of work lies in `data/fields/`, one a kind of job in `data/jobs/`. A wrong key
is named together with its file (`CatalogueError`). Nothing here knows a field by name.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from pathlib import Path
from types import MappingProxyType
from typing import Any

from capture.errors import InputError
from extract.values.adverse import KEYS, Adverse, Caution, Finding, cautions
from extract.values.defects import DEFECT, STATES, told
from extract.values.draft import Value
from extract.values.kinds import KINDS, Choice, Kind
from extract.values.known import NOTHING, Known
from extract.values.units import Units, convert, shown

DATA = Path(__file__).parents[1] / "data"

# The fields that have what recurs for a position, and an owner's own things among it.
RECURRING = ("recurring_done", "next_due_date", "next_due_hours")
JOB_KEYS = ("name", "label", "required", "usual", "marks", "app_a_items", "heed", "source")
# The ways a field can be said; data/fields/oil_and_filter.toml explains each at its head.
CUES = ("names", "frames", "subjects", "done", "undone", "yes", "no", "unless")
_KEYS = frozenset(
    ["kind", "label", "unit", "step", "range", "sizes", "choices", "positions", "says", "decimals",
     "source", "units", "over", "spelled", "adverse", "must_be_named", *CUES]
)  # fmt: skip


class CatalogueError(InputError):
    """A file of the catalogue has a key or a value that it cannot have."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the catalogue.

    `step` is the finest difference that matters and `low`, `high` what is plausible, all in `unit`;
    `sizes` are those that such a thing is made in, `()` where it is measured or counted;
    `positions` are the places it has (cylinders, tires, plug rows), `()` where there is one;
    `places` are the words for each position; `cues` are the ways it is said, by kind of cue; `says`
    are the words for each choice; `decimals` is how many figures are expected after the point,
    None where it varies; `units` are the units people use for it; `over` is what it is said *over*
    (74 over 80);
    `must_be_named` says that a value
    is doubted where no word of the note names it; `own` is the unit in which the owner reads and
    writes it, None where that is `unit`; `spelled` says whether a text is spelled as a `code` or as
    an oil `grade`; `adverse` are the rules for what is bad news, the first that fits speaks.
    """

    name: str
    kind: str
    label: str
    unit: str | None = None
    step: Decimal = Decimal("0.1")
    low: Decimal | None = None
    high: Decimal | None = None
    sizes: tuple[Decimal, ...] = ()
    choices: tuple[str, ...] = ()
    positions: tuple[int | str, ...] = ()
    places: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    cues: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    says: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    decimals: int | None = None
    units: tuple[str, ...] = ()
    over: Decimal | None = None
    spelled: str = "code"
    must_be_named: bool = False
    own: str | None = None
    adverse: tuple[Adverse, ...] = ()
    source: str = ""
    file: str = ""

    @property
    def kind_object(self) -> Kind:
        """Give the object that parses, shows and compares its values."""
        if self.kind == "choice":
            return Choice(self.choices)
        return KINDS[self.kind]

    @property
    def own_unit(self) -> str | None:
        """Give the unit in which the owner reads and writes it."""
        return self.own or self.unit

    def show(self, value: Value, said: str | None = None) -> str:
        """Write a value for a person, in the owner's unit; `said` is how it was said, if otherwise.

        What was said in the owner's own unit is written as it was said; said in another, both
        stand.
        """
        if not isinstance(value, Decimal) or self.unit is None or self.own_unit is None:
            return self.kind_object.show(value, self.unit)
        if said and said.endswith(f" {self.own_unit}"):
            return said
        own = shown(convert(value, self.unit, self.own_unit), self.own_unit)
        return f"{own} (said: {said})" if said else own

    def told(self, value: Value, said: str | None = None) -> str:
        """Write a value that was said or typed: in the owner's unit, and as it was given.

        `said` is None where it was given in the field's own unit.
        """
        if said is None and self.own is not None and isinstance(value, Decimal):
            said = shown(value, self.unit or "")
        return self.show(value, said)

    def typing(self, value: Value, said: str | None = None) -> str:
        """Write a value as the owner would type it, so that it is read back as the same."""
        if not isinstance(value, Decimal) or self.unit is None or self.own is None:
            return said or (f"{value:f}" if isinstance(value, Decimal) else self.show(value))
        return said or f"{value:f} {self.unit}"

    def plausible(self, value: Decimal) -> bool:
        """Say whether a number lies in the range that this field can have."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)

    def made_in(self, value: Decimal) -> bool:
        """Say whether a number is a size that such a thing is made in, to about half a step."""
        near = self.step * Decimal("0.6")
        return not self.sizes or any(abs(value - size) <= near for size in self.sizes)

    def finding(self, value: Value | None, known: Known = NOTHING) -> Finding | None:
        """Give what is adverse about a value of this field, or None (of a defect by its state)."""
        if self.kind == DEFECT and value is not None:
            value = told(value).state
        found = (
            rule.finding(value, known, self.show) for rule in self.adverse if value is not None
        )
        return next((finding for finding in found if finding is not None), None)


@dataclass(frozen=True, slots=True)
class JobKind:
    """A kind of job: its name, its label, the fields it needs and those it usually has.

    `marks` are the fields that only such work has: one of them said, and it may be this kind.
    `app_a_items` are the numbers of its tasks in 14 CFR 43 Appendix A(c); `heed` is what to mind in
    such work.
    """

    name: str
    label: str
    required: tuple[str, ...]
    usual: tuple[str, ...] = ()
    app_a_items: tuple[int, ...] = ()
    marks: tuple[str, ...] = ()
    heed: tuple[Caution, ...] = ()
    file: str = ""


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All fields and kinds of job, each by name and in the order of the files."""

    fields: Mapping[str, Field]
    jobs: Mapping[str, JobKind]

    def __hash__(self) -> int:
        return id(self)

    def owned(
        self, units: Units, meter: str | None = None, recurring: tuple[str, ...] = ()
    ) -> Catalogue:
        """Give the catalogue of an owner: units, the meter of the log, what recurs.

        What is read *over* another figure (compression over 80) keeps its unit.
        """
        fields = {}
        for name, one in self.fields.items():
            own = units.by.get(one.unit or "") if one.over is None else None
            known = {str(place).lower() for place in one.positions}
            more = tuple(what for what in recurring if what.lower() not in known)
            positions = (*one.positions, *(more if name in RECURRING else ()))
            fields[name] = replace(one, own=own, positions=positions)
        swap = {"tach_time": "hour_meter_time", "hour_meter_time": "tach_time"}
        swap = swap if meter == "hour_meter_time" else {}
        jobs = {
            name: replace(
                job,
                required=tuple(swap.get(n, n) for n in job.required),
                usual=tuple(swap.get(n, n) for n in job.usual),
            )
            for name, job in self.jobs.items()
        }
        return replace(self, fields=MappingProxyType(fields), jobs=MappingProxyType(jobs))


def load(*extra: Path) -> Catalogue:
    """Load the catalogue, and after it the files of fields named in `extra` (an owner's own).

    Raises CatalogueError naming file and key.
    """
    fields: dict[str, Field] = {}
    for path in (*_files("fields"), *extra):
        for name, raw in _toml(path).items():
            if name in fields:
                raise CatalogueError(f"field `{name}` is there twice", path.name)
            fields[name] = _field(name, raw, path.name)
    jobs: dict[str, JobKind] = {}
    for path in _files("jobs"):
        job = _job(path, fields)
        jobs[job.name] = job
    return Catalogue(MappingProxyType(fields), MappingProxyType(jobs))


def _files(folder: str) -> Iterator[Path]:
    yield from sorted((DATA / folder).glob("*.toml"))


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise CatalogueError("the file cannot be read", path) from error
    except tomllib.TOMLDecodeError as error:
        raise CatalogueError(f"not TOML: {error}", path.name, "mend the line it names") from error


def _field(name: str, raw: Any, file: str) -> Field:
    if not isinstance(raw, dict):
        raise CatalogueError(f"`{name}` is not a table of keys", file)
    for key in raw:
        if key not in _KEYS:
            raise CatalogueError(f"`{name}.{key}` is not a key of a field", file)
    kind = str(raw.get("kind"))
    if kind not in KINDS:
        raise CatalogueError(f"`{name}.kind` must be one of {', '.join(KINDS)}", file)
    low, high = _range(name, raw, file)
    places = _rows(name, "positions", raw, file)
    return Field(
        name=name,
        kind=kind,
        label=str(raw.get("label", name.replace("_", " "))),
        unit=raw.get("unit"),
        step=_decimal(name, "step", raw.get("step", "0.1"), file),
        low=low,
        high=high,
        sizes=tuple(
            _decimal(name, "sizes", size, file)
            for size in _words(raw.get("sizes", []), f"{name}.sizes", file)
        ),
        choices=_words(raw.get("choices", []), f"{name}.choices", file),
        positions=tuple(int(p) if p.isdigit() else p for p in places),
        places=places,
        cues=MappingProxyType(
            {cue: _words(raw[cue], f"{name}.{cue}", file) for cue in CUES if cue in raw}
        ),
        says=_rows(name, "says", raw, file),
        decimals=raw.get("decimals"),
        units=_words(raw.get("units", []), f"{name}.units", file),
        over=_decimal(name, "over", raw["over"], file) if "over" in raw else None,
        spelled=_spelled(name, raw, file),
        must_be_named=raw.get("must_be_named") is True,
        adverse=_adverse(name, raw, file),
        source=str(raw.get("source", "")),
        file=file,
    )


def _rows(name: str, key: str, raw: dict[str, Any], file: str) -> Mapping[str, tuple[str, ...]]:
    """Give the words of each place or choice of a field."""
    found = raw.get(key, {})
    if not isinstance(found, dict):
        raise CatalogueError(f"`{name}.{key}` must be a table: name = [words]", file)
    return MappingProxyType(
        {one: _words(words, f"{name}.{key}.{one}", file) for one, words in found.items()}
    )


def _adverse(name: str, raw: dict[str, Any], file: str) -> tuple[Adverse, ...]:
    rules = raw.get("adverse", [])
    if not isinstance(rules, list) or not all(isinstance(rule, dict) for rule in rules):
        raise CatalogueError(f"`{name}.adverse` must be a list of tables", file)
    return tuple(_rule(name, rule, raw, file) for rule in rules)


def _rule(name: str, rule: dict[str, Any], raw: dict[str, Any], file: str) -> Adverse:
    where = f"{name}.adverse"
    for key in rule:
        if key not in KEYS:
            raise CatalogueError(f"`{where}.{key}` is not a key of what is adverse", file)
    if len({"is", "is_not", "outside"} & set(rule)) + bool({"below", "above"} & set(rule)) != 1:
        raise CatalogueError(f"`{where}` needs one of is, is_not, outside, below and above", file)
    for key in ("of", "outside"):
        if key in rule and not hasattr(NOTHING, str(rule[key])):
            raise CatalogueError(f"`{where}.{key}` names nothing that is known", file)
    if not rule.get("word") or rule.get("caution") not in cautions():
        named = ", ".join(cautions())
        raise CatalogueError(f"`{where}` needs a word and a caution of: {named}", file)
    kind = KINDS[raw["kind"]]
    if raw["kind"] in ("choice", DEFECT):  # of a defect its state is judged
        kind = Choice(STATES if raw["kind"] == DEFECT else tuple(raw.get("choices", ())))
    words = _words(rule.get("is", rule.get("is_not", [])), where, file)
    try:
        values = tuple(kind.parse(word) for word in words)
        str(rule.get("why", "")).format(low=0, high=0, of=0)
    except (InputError, KeyError, IndexError, ValueError) as error:
        raise CatalogueError(f"`{where}`: {error}", file) from None
    figures = {k: _decimal(where, k, rule[k], file) for k in ("below", "above") if k in rule}
    return Adverse(
        word=str(rule["word"]),
        caution=cautions()[rule["caution"]],
        values=values,
        others="is_not" in rule,
        of=str(rule.get("of", "")),
        outside=str(rule.get("outside", "")),
        why=str(rule.get("why", "")),
        stands=rule.get("stands", True) is True,
        **figures,
    )


def _job(path: Path, fields: Mapping[str, Field]) -> JobKind:
    raw = _toml(path)
    for key in raw:
        if key not in JOB_KEYS:
            raise CatalogueError(f"`{key}` is not a key of a kind of job", path.name)
    for key in ("name", "label", "required"):
        if key not in raw:
            raise CatalogueError(f"`{key}` is missing", path.name)
    listed = (_words(raw.get(k, []), k, path.name) for k in ("required", "usual", "marks"))
    required, usual, marks = listed
    for name in (*required, *usual, *marks):
        if name not in fields:
            raise CatalogueError(f"`{name}` is not a field of the catalogue", path.name)
    heeded = _words(raw.get("heed", []), "heed", path.name)
    for name in heeded:
        if name not in cautions():
            raise CatalogueError(f"`heed` names no caution: {name}", path.name)
    heed = tuple(cautions()[name] for name in heeded)
    items = tuple(int(item) for item in raw.get("app_a_items", []))
    return JobKind(
        str(raw["name"]), str(raw["label"]), required, usual, items, marks, heed, path.name
    )


def _range(name: str, raw: dict[str, Any], file: str) -> tuple[Decimal | None, Decimal | None]:
    if "range" not in raw:
        return None, None
    pair = raw["range"]
    if not isinstance(pair, list) or len(pair) != 2:
        raise CatalogueError(f"`{name}.range` must be two numbers in quotes", file)
    low, high = (_decimal(name, "range", item, file) for item in pair)
    if low > high:
        raise CatalogueError(f"`{name}.range` runs downwards", file)
    return low, high


def _spelled(name: str, raw: dict[str, Any], file: str) -> str:
    spelled = str(raw.get("spelled", "code"))
    if spelled not in ("code", "grade"):
        raise CatalogueError(f"`{name}.spelled` must be code or grade", file)
    return spelled


def _decimal(name: str, key: str, raw: Any, file: str) -> Decimal:
    try:
        if isinstance(raw, str):
            return Decimal(raw)
    except InvalidOperation:
        pass
    raise CatalogueError(f"`{name}.{key}` must be a number in quotes, so that it is exact", file)


def _words(raw: Any, key: str, file: str) -> tuple[str, ...]:
    if not isinstance(raw, list) or not all(isinstance(item, str) for item in raw):
        raise CatalogueError(f"`{key}` must be a list of words in quotes", file)
    return tuple(raw)
