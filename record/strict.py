"""Rows from outside, held to what this program itself writes, before any of them is let in.

The published schema says of which type a column is; this says what its text must be: a moment with
its offset, a value of its kind, a hash, JSON that reads back. Whatever a later command reads of a
row is read here once, so that a row which would stop that command never enters the record.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlmodel import SQLModel

from capture.errors import CowlnoteError, InputError
from capture.observed import photo_from_json, transcript_from_json
from extract.values.catalogue import Catalogue
from record import chain
from record.proof import Source
from record.reports import level
from record.rules import metals
from record.tables import ArrangementRow
from record.typed import catalogue_of
from record.values import (
    NONE,
    load_alternatives,
    load_evidence,
    load_quad,
    moment,
    name_now,
    unpack,
    utc,
)

Row = Mapping[str, Any]
Check = Callable[[Any], object]
MOST = 2**63 - 1  # what a column of whole numbers holds
FARTHEST = 30  # powers of ten: no quantity of a service has more, and none can be shown
HEX = re.compile(r"[0-9a-f]{64}")
BAD = (ValueError, TypeError, KeyError, ArithmeticError, AttributeError, RecursionError)
KINDS = {"number": Decimal, "truth": bool, "date": date}


class RowError(ValueError):
    """What is wrong with a value, in words."""


def fault(
    document: Mapping[str, Any],
    tables: Iterable[type[SQLModel]],
    catalogue: Catalogue | None = None,
) -> str | None:
    """Give what is wrong with the first row that could not be read later, or None.

    `document` is a dump of the published form; the schema has been checked already.
    """
    return next(_faults(document["tables"], tuple(tables), catalogue_of(catalogue)), None)


def faults(source: Source, tables: Iterable[type[SQLModel]]) -> Iterator[str]:
    """Give what is wrong with each row of a record, read as it lies."""
    yield from _faults(_Streamed(source), tuple(tables), catalogue_of(None))


class _Streamed:
    """Rows that are read anew each time that they are asked for, in place of a dump."""

    def __init__(self, source: Source) -> None:
        self._source = source

    def get(self, table: str, none: Any = ()) -> Iterable[Row]:
        return self._source.rows(table)


def _faults(
    rows: Mapping[str, Any] | _Streamed, tables: tuple[type[SQLModel], ...], catalogue: Catalogue
) -> Iterator[str]:
    keys = {_name(t): {row[_key(t)] for row in rows.get(_name(t), ())} for t in tables}
    for table in tables:
        name = _name(table)
        seen: dict[str, set[Any]] = {}
        for row in rows.get(name, ()):
            try:
                for column, value in row.items():
                    _plain(value, column)
                    check = CHECKS.get((name, column)) or CHECKS.get(("", column))
                    if check is not None and value is not None:
                        _checked(check, value, column)
                _belongs(table, row, keys, seen)
                whole = WHOLE.get(name)
                if whole is not None:
                    whole(row, catalogue)
            except RowError as error:
                yield f"{name.replace('_', ' ')} {row.get(_key(table))}: {error}"
            except (*BAD, CowlnoteError):
                yield f"{name.replace('_', ' ')} {row.get(_key(table))}: cannot be read"


def _name(table: type[SQLModel]) -> str:
    return str(table.__tablename__)


def _key(table: type[SQLModel]) -> str:
    key: str = table.__table__.primary_key.columns.keys()[0]  # type: ignore[attr-defined]
    return key


def _shown(value: Any) -> str:
    text = str(value)
    return repr(text if len(text) <= 40 else f"{text[:40]}…")


def _checked(check: Check, value: Any, column: str) -> None:
    try:
        check(value)
    except RowError as error:
        raise RowError(f"{column} {error}") from None
    except (*BAD, CowlnoteError):
        raise RowError(f"{column} cannot be read: {_shown(value)}") from None


def _plain(value: Any, column: str) -> None:
    """Hold a number to what a column can hold, and text to characters that can be stored."""
    if isinstance(value, int) and not isinstance(value, bool) and not 0 <= value <= MOST:
        raise RowError(f"{column} is no number that the record can hold: {value:.6g}"[:90])
    if isinstance(value, float) and not math.isfinite(value):
        raise RowError(f"{column} is no number")
    if isinstance(value, str):
        if any("\ud800" <= c <= "\udfff" for c in value):
            raise RowError(f"{column} holds half a character")
        if "\0" in value:
            raise RowError(f"{column} holds a zero byte, which no database keeps")


def _belongs(
    table: type[SQLModel], row: Row, keys: Mapping[str, set[Any]], seen: dict[str, set[Any]]
) -> None:
    """Hold a row to the tables: what it points at is there, and what names it is its own."""
    for column in table.__table__.columns:  # type: ignore[attr-defined]
        value = row.get(column.name)
        if value is None:
            continue
        for pointed in column.foreign_keys:
            target = pointed.column.table.name
            if value not in keys.get(target, ()):
                raise RowError(f"{column.name} points at {target} {value}, which is not there")
        if column.primary_key or column.unique:
            before = seen.setdefault(column.name, set())
            if value in before:
                raise RowError(f"{column.name} is there twice")
            before.add(value)
        if column.primary_key and value < 1:
            raise RowError("numbers begin at 1")


def _moment(text: str) -> None:
    at = datetime.fromisoformat(text)
    if at.utcoffset() is None:
        raise RowError(f"has no offset from UTC: {_shown(text)}")
    utc(at)  # beyond the years that can be told: OverflowError


def _day(text: str) -> None:
    if date.fromisoformat(text).isoformat() != text:
        raise RowError(f"is no day as 2026-03-14: {_shown(text)}")


def _hash(text: str) -> None:
    if not HEX.fullmatch(text):
        raise RowError("is no SHA-256")


def _person(text: str) -> None:
    if not any(sign.isalpha() for sign in text):
        raise RowError(f"is nobody's name: {_shown(text)}")


def _file(text: str) -> None:
    if not text or text in (".", "..") or "/" in text:
        raise RowError(f"is no name of a file: {_shown(text)}")


def _decimal(value: Decimal, text: str) -> None:
    if not value.is_finite() or abs(value.adjusted()) > FARTHEST or len(text) > 3 * FARTHEST:
        raise RowError(f"is no number that can be shown: {_shown(text)}")


def _figure(text: str) -> None:
    _decimal(Decimal(text), text)


def _one_of(*known: str) -> Check:
    def check(text: str) -> None:
        if text not in known:
            raise RowError(f"is {_shown(text)}, and can be {', '.join(known)}")

    return check


def _position(text: str) -> None:
    found = json.loads(text)
    if isinstance(found, bool) or not isinstance(found, int | str | None):
        raise RowError(f"is no position: {_shown(text)}")
    _plain(found, "")


def _texts(text: str) -> None:
    found = json.loads(text)
    if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
        raise RowError("is no list of texts")
    for one in found:
        _plain(one, "")


def _object(text: str) -> None:
    if not isinstance(json.loads(text), dict):
        raise RowError("is no JSON object")


def _acts(text: str) -> None:
    found = json.loads(text)
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise RowError("are no acts")


def _finite(*numbers: Any) -> None:
    for number in numbers:
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise RowError(f"holds what is no number: {_shown(number)}")
        if not math.isfinite(number) or abs(number) > MOST:
            raise RowError("holds a number that cannot be")


def _quad(text: str) -> None:
    found = load_quad(text) or ()
    if len(found) != 4:
        raise RowError("are not four corners")
    _finite(*(side for corner in found for side in corner))


def _alternatives(text: str) -> None:
    for one in load_alternatives(text):
        _finite(one.confidence)
        if isinstance(one.value, Decimal):
            _decimal(one.value, str(one.value))
        _plain(one.why + "", "")


def _also(text: str) -> None:
    for one in load_evidence(text):
        _plain(one.media + one.heard, "")
        _finite(*(s for s in (one.start, one.end) if s is not None))
        if one.quad is not None:
            _finite(*(side for corner in one.quad for side in corner))
        if one.said_at is not None:
            _moment(one.said_at.isoformat())


def _levels(text: str) -> None:
    found = json.loads(text)
    for symbol, figure in found.items():
        if symbol not in metals():
            raise RowError(f"name no metal that is followed: {_shown(symbol)}")
        level(figure)


CHECKS: Mapping[tuple[str, str], Check] = {
    **{("", c): _moment for c in ("opened_at", "closed_at", "modified", "made_at", "at")},
    **{("", c): _moment for c in ("began", "began_utc", "said_at", "said_utc")},
    **{("", c): _hash for c in ("sha256", "prev", "hash")},
    **{("", c): _person for c in ("by", "closed_by")},
    **{("", c): _finite for c in ("start_s", "end_s", "confidence", "began_uncertainty_s")},
    ("", "position"): _position,
    ("", "doubts"): _texts,
    ("", "quad"): _quad,
    ("", "alternatives"): _alternatives,
    ("", "also"): _also,
    ("", "shown"): _object,
    ("decision", "draft"): _object,
    ("decision", "evidence"): _object,
    ("event", "acts"): _acts,
    ("event", "seals"): _object,
    **{("event", c): _hash for c in ("link_hash", "report_hash")},
    ("decision", "action"): _one_of(*chain.STATES, *chain.ENTERS, "close"),
    ("draft", "state"): _one_of("waiting", chain.ASIDE, *set(chain.STATES.values())),
    ("media", "kind"): _one_of("memo", "photo"),
    ("media", "name"): _file,
    ("media", "original"): _file,
    ("transcript", "kind"): _one_of("memo", "photo"),
    ("lab_report", "taken"): _day,
    ("lab_report", "tach"): _figure,
    ("lab_report", "hours"): _figure,
    ("lab_report", "levels"): _levels,
}


def _media(row: Row, catalogue: Catalogue) -> None:
    if row["began_utc"] != utc(moment(row["began"])):
        raise RowError("began_utc is another moment than began")
    if row["began"] is not None and not row["began_source"]:
        raise RowError("it is not said from what its time was learnt")


def _segment(row: Row, catalogue: Catalogue) -> None:
    if row["said_utc"] != utc(moment(row["said_at"])):
        raise RowError("said_utc is another moment than said_at")


def _transcript(row: Row, catalogue: Catalogue) -> None:
    _checked(_memo_body if row["kind"] == "memo" else _photo_body, row["body"], "body")


def _memo_body(text: str) -> None:
    heard = transcript_from_json(json.loads(text))
    _finite(heard.duration_s, *(edge for stretch in heard.speech for edge in stretch))
    if not heard.hearings:
        raise RowError("holds no hearing")
    for hearing in heard.hearings:
        _plain(hearing.model + hearing.settings, "")
        for word in hearing.words:
            _plain(word.text + "", "")
            _finite(word.start_s, word.end_s, word.probability)
    if heard.began is not None:
        _moment(heard.began.at.isoformat())


def _photo_body(text: str) -> None:
    seen = photo_from_json(json.loads(text))
    _finite(*seen.size)
    for one in seen.readings:
        _plain(one.kind + one.text + "".join(one.doubts), "")
        _finite(one.probability, *(side for corner in one.quad for side in corner))
        _finite(*(sure for _, sure in one.alternatives))
    if seen.taken is not None:
        _moment(seen.taken.at.isoformat())


def _valued(row: Row, catalogue: Catalogue) -> None:
    """Hold a draft or an entry to the kind of its field."""
    if row["kind"] == NONE:
        if "decision_id" not in row:
            raise RowError("it has no value")
        return
    try:
        value = unpack(row["kind"], row["value"])
    except CowlnoteError:
        raise RowError(f"value cannot be read: {row['kind']} {_shown(row['value'])}") from None
    if isinstance(value, Decimal):
        try:
            _decimal(value, row["value"])
        except RowError as error:
            raise RowError(f"value {error}") from None
    field = catalogue.fields.get(name_now(row["name"]))
    if field is not None and not isinstance(value, KINDS.get(field.kind, str)):
        raise RowError(f"value is no {field.kind}, as {field.label} needs: {_shown(row['value'])}")


def _entry(row: Row, catalogue: Catalogue) -> None:
    _valued(row, catalogue)
    if row["said_utc"] is None and row["said_at"] is None:
        return  # of a defect that was settled by an earlier version
    if row["said_utc"] != utc(moment(row["said_at"]) or moment(row["at"])):
        raise RowError("said_utc is another moment than said_at")


def _arrangement(row: Row, catalogue: Catalogue) -> None:
    if row["action"] == "clock" and row["becomes"]:
        _checked(_moment, row["becomes"], "becomes")


WHOLE: Mapping[str, Callable[[Row, Catalogue], None]] = {
    "media": _media,
    "segment": _segment,
    "transcript": _transcript,
    "draft": _valued,
    "entry": _entry,
    str(ArrangementRow.__tablename__): _arrangement,
}


def loads(text: str) -> Any:
    """Read JSON from outside. Raises `InputError` for what no program of ours writes."""

    def constant(name: str) -> Any:
        raise ValueError(f"{name} is no number")

    try:
        return json.loads(text, parse_constant=constant)
    except (ValueError, RecursionError) as error:
        why = "it is nested too deep" if isinstance(error, RecursionError) else str(error)
        raise InputError(f"is no JSON that can be read ({why})") from None
