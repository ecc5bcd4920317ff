"""Prove the record from its rows alone, however damaged they are: every break, named, none raised.

Rows come as plain mappings from a `Source`: the database at hand, or a copy read without trusting
it. What is reckoned here must not fail on any row, since a check that ends on the first damaged row
tells nothing of the rest.
"""

from __future__ import annotations

import heapq
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Protocol

from record.acts import ABOUT, ASIDE, ENTERS, STATES
from record.media import own_name
from record.seals import CAME_LATER, START, Row, link_seal, row_seal, unit_seal
from record.values import dump

MAIN = ("decision", "entry", "arrangement")
# The rows that the journal seals: table, and the column that says which unit a row is of.
UNITS = {
    "job": "id",
    "media": "id",
    "transcript": "media_id",
    "segment": "media_id",
    "draft": "id",
}
FOUND = "sealed as found"
SLACK = timedelta(minutes=5)  # clocks are put right by seconds; by more it is worth a word
BAD = (ValueError, TypeError, KeyError, AttributeError, RecursionError)  # of a damaged row


@dataclass(frozen=True, slots=True)
class Broken:
    """What does not hold: its place in the chain or its number, what it is, what is wrong."""

    place: int
    what: str
    why: str

    def __str__(self) -> str:
        """Give one line."""
        return f"{self.what} {self.place}: {self.why}"


class Source(Protocol):
    """Where rows come from."""

    def rows(self, table: str) -> Iterator[Row]:
        """Give the rows of a table in the order of their numbers; those that can be read."""


@dataclass(slots=True)
class Proof:
    """One walk through the record. Each method gives what does not hold; nothing is raised.

    `ends` are the hashes of the links of each chain, by place; `seals` the last seal of each unit,
    `ever` all seals of transcripts, `heads` what the journal says of the two other chains.
    """

    source: Source
    ends: dict[str, dict[int, str]] = field(default_factory=dict)
    seals: dict[str, str | None] = field(default_factory=dict)
    ever: set[str] = field(default_factory=set)
    heads: dict[str, dict[int, str]] = field(default_factory=dict)
    since: int = 0  # decisions after this link are of the form that names its evidence
    counted: dict[str, int] = field(default_factory=dict)
    backwards: list[Broken] = field(default_factory=list)  # dated before the one it follows

    def links(self, name: str, *tables: str) -> Iterator[tuple[str, Row] | Broken]:
        """Walk a chain over one or several tables; give each link, and each break before it."""
        ends = self.ends[name] = {0: START}
        place, prev, then = 1, START, None
        streams = [_numbered(self.source, table) for table in tables]
        for number, table, row in heapq.merge(*streams, key=lambda one: one[0]):
            if number > place:
                some = f"links {place} to {number - 1} are" if number - 1 > place else "is"
                yield Broken(place, "link" if name == "chain" else name, f"{some} missing")
            elif number < place:
                yield Broken(number, "link" if name == "chain" else name, "is there twice")
            elif row["prev"] != prev:
                yield Broken(number, table, "does not follow the one before it")
            if row["hash"] != link_seal(table, row):
                yield Broken(number, table, "is not what was written")
            ends[number] = prev = str(row["hash"])
            place = number + 1
            at = _moment(row["at"])
            if then and at and at < then - SLACK:
                why = f"is dated {row['at']}, before the one it follows ({then.isoformat()})"
                self.backwards.append(Broken(number, table, why))
            then = at or then
            yield table, row
        self.counted[name] = place - 1

    def chain(self) -> Iterator[Broken]:
        """Prove decisions, entries and arrangements, and what lies beside them and follows."""
        told = _Told()
        for link in self.links("chain", *MAIN):
            if isinstance(link, Broken):
                yield link
            else:
                told.take(*link)
        for number in told.enters:
            if number not in told.entered:
                yield Broken(number, "decision", "has lost its entry")
        yield from self._drafts(told)
        yield from self._jobs(told)
        yield from _arranged(told, self.source)

    def _drafts(self, told: _Told) -> Iterator[Broken]:
        for row in self.source.rows("draft"):
            number, is_ = row["id"], row["state"]
            decided = told.last.get(number)
            state = STATES.get(decided.action, "?") if decided else "waiting"
            if is_ != state and (is_, state) != (ASIDE, "waiting"):
                by = f"{decided.action} by {decided.by}" if decided else "no decision"
                yield Broken(number, "draft", f"is {is_}, but there is {by}")
            elif decided and state != "waiting" and decided.draft != frozen(row):
                yield Broken(number, "draft", "is not what was decided")

    def _jobs(self, told: _Told) -> Iterator[Broken]:
        for row in self.source.rows("job"):
            if row["closed_by"] != told.closed.get(row["id"]):
                yield Broken(row["id"], "job", "is not open or closed as was decided")

    def reports(self) -> Iterator[Broken]:
        """Prove the chain of laboratory reports."""
        for link in self.links("lab_report", "lab_report"):
            if isinstance(link, Broken):
                yield link

    def journal(self) -> Iterator[Broken]:
        """Prove the journal, and take from it what every row must be."""
        self.heads = {"chain": {}, "lab_report": {}}
        last: Row | None = None
        for link in self.links("event", "event"):
            if isinstance(link, Broken):
                yield link
                continue
            last = link[1]
            yield from self._event(last)
        if last is None:
            return
        for what, name, key in (
            ("link", "chain", "links"),
            ("lab_report", "lab_report", "reports"),
        ):
            end = max(self.ends.get(name, {0: START}))
            if _number(last[key]) < end:
                yield Broken(end, what, f"and what follows {last[key]} is not in the journal")

    def all(self) -> Iterator[Broken]:
        """Prove everything; each thing that does not hold is named once."""
        named = set()
        for walk in (self.chain, self.reports, self.journal, self.rows, self.evidence):
            for broken in walk():
                if (broken.what, broken.place) not in named:
                    named.add((broken.what, broken.place))
                    yield broken

    def against(self, number: int, begins: str) -> str | None:
        """Compare with a head that was kept elsewhere, after `all`; say what does not fit.

        It is one of the journal, or of the chain of decisions as exports named it before.
        """
        ends = [self.ends.get(name, {}) for name in ("event", "chain")]
        if any(end.get(number, "").startswith(begins) for end in ends):
            return None
        head, last = f"{number}-{begins[:12]}", max(ends[0], default=0)
        if number > last:
            return f"the record ends at {last}, before the head {head}: what came after was cut off"
        return f"the record has another link {number} than the head {head}: it was written anew"

    def _event(self, row: Row) -> Iterator[Broken]:
        try:
            seals = {
                str(unit): seal and str(seal) for unit, seal in json.loads(row["seals"]).items()
            }
            acts = [act["act"] for act in json.loads(row["acts"])]
        except BAD:
            yield Broken(row["id"], "event", "cannot be read")
            return
        if row["id"] == 1 and FOUND in acts:
            self.since = _number(row["links"])
        self.seals.update(seals)
        self.ever |= {s for unit, s in seals.items() if s and unit.startswith("transcript:")}
        for name, place, seal in (
            ("chain", row["links"], row["link_hash"]),
            ("lab_report", row["reports"], row["report_hash"]),
        ):
            if name in self.ends and self.ends[name].get(_number(place)) != seal:
                yield Broken(row["id"], "event", f"names another {name} link {place} than there is")

    def rows(self) -> Iterator[Broken]:
        """Compare every row with the last seal that the journal has of it; after `journal`."""
        found: set[str] = set()
        for table, key in UNITS.items():
            grouped: dict[Any, list[str]] = {}
            for row in self.source.rows(table):
                grouped.setdefault(row[key], []).append(row_seal(table, row))
            self.counted[table] = sum(map(len, grouped.values()))
            for number, seals in grouped.items():
                unit = f"{table}:{number}"
                found.add(unit)
                if unit not in self.seals:
                    yield Broken(_number(number), table, "was never sealed")
                elif self.seals[unit] != unit_seal(seals):
                    yield Broken(_number(number), table, "is not what was sealed")
        for unit in sorted(u for u, seal in self.seals.items() if seal and u not in found):
            table, _, number = unit.partition(":")
            yield Broken(int(number) if number.isdecimal() else 0, table, "is gone")

    def evidence(self) -> Iterator[Broken]:
        """Hold what each decision says that it rests on against media and sealed transcripts."""
        media = {row["sha256"]: row for row in self.source.rows("media")}
        named: dict[int, set[str]] = {}
        for row in self.source.rows("decision"):
            told = row["evidence"]
            if told is None:
                if row["id"] > self.since:
                    yield Broken(row["id"], "decision", "does not say what it rests on")
                continue
            try:
                found = json.loads(told)["media"]
                files = {
                    n: (str(f["sha256"]), f["transcript"] or "") for n, f in found.items() if f
                }
            except BAD:
                yield Broken(row["id"], "decision", "rests on something that cannot be read")
                continue
            named[row["id"]] = set(found)
            for name, (sha256, transcript) in files.items():
                why = self._unlike(media.get(sha256), name, transcript)
                if why:
                    yield Broken(row["id"], "decision", f"rests on {why}")
        for row in self.source.rows("entry"):
            if row["media"] and row["media"] not in named.get(row["decision_id"], {row["media"]}):
                why = f"is of {row['media']}, on which its decision does not rest"
                yield Broken(row["id"], "entry", why)

    def _unlike(self, file: Row | None, name: str, transcript: str) -> str | None:
        """Say why a file is not the one that a decision rests on, or None where it is."""
        if file is None:
            return f"{name}, which is another file now"
        # where two of one name come together, to move one adds its hash to the name
        own = own_name(str(file["original"]), str(file["sha256"]))
        if file["name"] != name and (file["original"] != name or file["name"] != own):
            return f"{name}, which is called {file['name']} now"
        if transcript and transcript not in self.ever:
            return f"a transcript of {name} that was never sealed"
        return None


def _numbered(source: Source, table: str) -> Iterator[tuple[int, str, Row]]:
    return ((row["id"], table, row) for row in source.rows(table))


@dataclass(frozen=True, slots=True)
class _Decided:
    action: str
    by: str
    draft: str | None


@dataclass(slots=True)
class _Told:
    """What the links of the chain say that lies beside it, gathered in one walk."""

    enters: list[int] = field(default_factory=list)
    entered: set[int] = field(default_factory=set)
    last: dict[int, _Decided] = field(default_factory=dict)
    closed: dict[int, str] = field(default_factory=dict)
    arranged: dict[tuple[str, int, str], Row] = field(default_factory=dict)

    def take(self, table: str, row: Row) -> None:
        if table == "entry":
            self.entered.add(row["decision_id"])
        elif table == "decision":
            if row["action"] in ENTERS:
                self.enters.append(row["id"])
            if row["draft_id"] is not None:
                self.last[row["draft_id"]] = _Decided(row["action"], row["by"], row["draft"])
            if row["action"] == "close":
                self.closed[row["job_id"]] = row["by"]
        else:
            what = "media" if row["media_id"] else "job"
            about = str(ABOUT.get(row["action"], row["action"]))
            self.arranged[what, row["media_id"] or row["job_id"], about] = row


def _arranged(told: _Told, source: Source) -> Iterator[Broken]:
    """Compare where media and jobs belong with what people last said of it."""
    there = {
        what: {row["id"]: row for row in source.rows(what)} if told.arranged else {}
        for what in ("media", "job")
    }
    for (what, number, about), row in told.arranged.items():
        now_: Mapping[str, Any] | None = there[what].get(number)
        if now_ is None:
            yield Broken(number, what, "was arranged and is not there")
            continue
        stands = {
            "move": now_.get("job_id"),
            "kind": now_["kind"],
            "aircraft": now_.get("aircraft") or "",
            "aside": ASIDE if now_["aside"] else "",
            "clock": now_.get("began"),
        }
        if about in stands and str(stands[about]) != row["becomes"]:
            why = f"is not as {row['by']} said ({row['action']} at link {row['id']})"
            yield Broken(number, what, why)


def frozen(row: Row) -> str:
    """Give a draft as it is frozen with the decision on it, as JSON."""
    left = ("id", "job_id", "state", "version")
    content = {
        k: v for k, v in row.items() if k not in left and (v is not None or k not in CAME_LATER)
    }
    try:
        return dump(content)
    except (TypeError, ValueError):
        return ""


def _moment(text: object) -> datetime | None:
    try:
        at = datetime.fromisoformat(str(text))
    except ValueError:
        return None
    return at if at.tzinfo else None


def _number(value: object) -> int:
    return value if isinstance(value, int) else -1
