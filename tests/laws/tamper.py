"""Tamper trials: change a small home in every way that is thought of, and count what `check` finds.

    python -m tests.laws.tamper            every column of every row, 2,000 flipped bits
    python -m tests.laws.tamper --short    what the tests do

A change is made as another program could make it: guards taken off and put back, bytes of the file
overwritten. It counts as made only if the rows, notes or files that the seal covers read otherwise
than before (a bit of free space is nobody's); then it must be found, and the check must end.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from capture.observed import Hearing, Instant, Transcript, Word
from capture.vault import Vault
from desk import noted, settings, upkeep
from extract.values.draft import Draft
from record import arrange, dump, jobs, lab, media, queue, reports
from record.reading import DAMAGE
from record.store import FILE, Store

WHO = "Ines Invented"
AT = datetime(2026, 3, 14, 9, 12, 5, tzinfo=ZoneInfo("America/Chicago"))
SEED = 417
PAGE = 4096  # bytes of a page of SQLite, as Python makes it
TABLES = [dump.name_of(table) for table in dump.TABLES]


@dataclass
class Trials:
    """How many changes of each kind were made, found, and ended the check; what was missed."""

    made: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    crashed: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)

    def note(self, kind: str, what: str, problems: list[str] | None, why: str = "") -> None:
        """Count one change; `problems` is None where the check did not end as it should."""
        self.made[kind] += 1
        if problems is None or any("could not be looked at" in p for p in problems):
            self.crashed.append(f"{kind}: {what}: {why or problems}")
        elif problems:
            self.found[kind] += 1
        else:
            self.missed.append(f"{kind}: {what}")

    def lines(self) -> Iterator[str]:
        """Give the figures, a line a kind."""
        for kind, made in self.made.items():
            yield f"{kind:<34}{made:>6} made {self.found[kind]:>6} found"
        made, found = sum(self.made.values()), sum(self.found.values())
        yield f"{'all':<34}{made:>6} made {found:>6} found, {100 * found / max(made, 1):.1f} %"
        yield f"check did not end: {len(self.crashed)}"


def build(home: Path) -> None:
    """Make a home in which every sealed table has rows: heard, decided, moved, closed, reported."""
    home.mkdir()
    (home / "aircraft.toml").write_text('registration = "N0417Q"\nsump_capacity = 8\n', "utf-8")
    vault, store = Vault(home / "vault"), Store.open(home)
    noted.note_profiles(store, settings.load(home, {}))
    numbers = []
    for name in ("memo one.amr", "memo two.amr", "memo three.amr"):
        path = home.parent / name
        path.write_bytes(b"#!AMR\n" + name.encode() * 20)
        with store.session() as session:
            found = media.note(session, vault.keep(path), Instant(AT, "name", 2.0, "by its name"))
            numbers.append(found.id)
            words = ("torqued", "the", "filter", "to", "seventeen.", "No", "leaks.")
            spoken = tuple(Word(w, i * 0.4, i * 0.4 + 0.3, 0.9) for i, w in enumerate(words))
            media.keep_transcript(
                session, found.id, Transcript(name, 3.0, (Hearing("base", "beam 5", spoken),), ())
            )
    with store.session() as session:
        job = jobs.job_for(session, AT, aircraft="N0417Q")
        for number in numbers:
            media.join(session, number, job)
        given = [_draft("filter_torque", 17, "ft-lb"), _draft("oil_added", 7, "qt")]
        given += [_draft("oil_level", 7, "qt"), _draft("tach_time", 2345, "h")]
        torque, added, level, _ = queue.put(session, job, given)
    with store.session() as session:
        queue.confirm(session, [torque], WHO)
        queue.amend(session, added, "7.25", WHO, "misheard", although="as seen")
        queue.reject(session, level, WHO, "not said")
        arrange.split(session, job, numbers[2:], WHO, "another afternoon")
        lab.add(session, reports.make("North Lab", date(2026, 3, 14), {"Fe": "22"}), WHO)
        lab.add(session, reports.make("South Lab", date(2026, 3, 14), {"Fe": "20"}), WHO)
    with store.session() as session:
        jobs.close(session, job, WHO, because="the tach is read next time")
    store.close()
    with closing(sqlite3.connect(home / FILE)) as raw:
        raw.execute("PRAGMA journal_mode = DELETE")  # all in one file, to be copied and flipped


def _draft(name: str, value: int, unit: str) -> Draft:
    from decimal import Decimal

    heard = f"{name} {value}"
    return Draft(
        name, Decimal(value), unit, None, "memo one.amr", 0.4, 2.0, AT, heard, 0.9, ("unsure",)
    )


class Home:
    """A home to be changed, checked, and put back as it was."""

    def __init__(self, top: Path) -> None:
        self.home, self.whole = top / "home", top / "whole"
        build(self.home)
        shutil.copytree(self.home, self.whole)
        self.rows = self.reads()

    def reads(self) -> Any:
        """Give all sealed rows as they read now, or the error with which they do not."""
        try:
            with closing(sqlite3.connect(self.home / FILE)) as raw:
                raw.text_factory = bytes
                return {t: raw.execute(f"SELECT * FROM {t} ORDER BY id").fetchall() for t in TABLES}
        except DAMAGE as error:
            return str(error)

    def problems(self) -> list[str] | None:
        """Check the home as the command does; None where the check itself fails."""
        from capture.errors import CowlnoteError

        try:
            store = Store.open(self.home, read_only=True)
        except CowlnoteError as error:  # one clear line and an exit code, as for any command
            return [str(error)]
        try:
            profiles = noted.profiles(self.home)
            return upkeep.check(store, Vault(self.home / "vault"), profiles=profiles).problems
        except CowlnoteError as error:
            return [str(error)]
        finally:
            store.close()

    def back(self) -> None:
        """Put everything back."""
        shutil.rmtree(self.home)
        shutil.copytree(self.whole, self.home)

    def sql(self, *statements: str, values: tuple[Any, ...] = ()) -> None:
        """Change the database with its guards off, and put them back."""
        with closing(sqlite3.connect(self.home / FILE, isolation_level=None)) as raw:
            raw.execute("PRAGMA synchronous = OFF")  # the home is thrown away
            raw.execute("BEGIN")
            guards = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
            off = raw.execute(guards).fetchall()
            for name, _ in off:
                raw.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                raw.execute(statement, values)
            for _, made in off:
                raw.execute(made)
            raw.execute("COMMIT")


def trial(home: Home, trials: Trials, kind: str, what: str, change: Callable[[], None]) -> None:
    """Make one change, check, note what came of it, and put everything back."""
    try:
        change()
    except DAMAGE:  # the tables themselves refuse it: nothing was changed
        home.back()
        return
    same = kind.startswith(("row", "bit of a row", "bit of the file"))
    same = same and home.reads() == home.rows
    try:
        found = home.problems()
        if not same or found is None:
            trials.note(kind, what, found)
    except Exception as error:  # noqa: BLE001  (a check that ends on what it sees is looked for)
        trials.note(kind, what, None, f"{type(error).__name__}: {error}")
    home.back()


def columns(home: Home) -> Iterator[tuple[str, str, list[tuple[int, Any]]]]:
    """Give table, column, and the number and value of every row."""
    with closing(sqlite3.connect(home.home / FILE)) as raw:
        for table in TABLES:
            for _, name, *_ in raw.execute(f"PRAGMA table_info({table})").fetchall():
                query = f"SELECT id, {name} FROM {table} ORDER BY id"
                yield table, name, raw.execute(query).fetchall()


def others(value: Any) -> list[Any]:
    """Give values that another could put in the place of one."""
    if value is None:
        return ["x", 1]
    if isinstance(value, str):
        return [f"{value}x", value[:-1] if value else "y", None]
    return [value + 1, str(value) + "x", None]


def edits(home: Home, trials: Trials, rows: int, each: int) -> None:
    """Edit every column of every sealed table by SQL, in up to `rows` rows, in `each` ways."""
    for table, column, found in list(columns(home)):
        for number, value in found[:rows]:
            for new in others(value)[:each]:
                told = f"UPDATE {table} SET {column} = ? WHERE id = {number}"
                what = f"{told} ({new!r:.40})"
                trial(
                    home, trials, "row edited", what, lambda t=told, n=new: home.sql(t, values=(n,))
                )


def rows_gone_and_swapped(home: Home, trials: Trials) -> None:
    """Take out each row, put each in twice, and swap the contents of two."""
    with closing(sqlite3.connect(home.home / FILE)) as raw:
        names = {t: [r[1] for r in raw.execute(f"PRAGMA table_info({t})")] for t in TABLES}
        ids = {t: [r[0] for r in raw.execute(f"SELECT id FROM {t} ORDER BY id")] for t in TABLES}
    for table in TABLES:
        rest = [c for c in names[table] if c != "id"]
        listed = ", ".join(rest)
        for number in ids[table]:
            gone = f"DELETE FROM {table} WHERE id = {number}"
            trial(home, trials, "row taken out", gone, lambda s=gone: home.sql(s))
        more = f"INSERT INTO {table} SELECT max(id) + 1, {listed} FROM {table}"
        trial(home, trials, "row put in", more, lambda s=more: home.sql(s))
        if len(ids[table]) > 1:
            one, two = ids[table][:2]
            free = max(ids[table]) + 99
            steps = [(one, free), (two, one), (free, two)]
            swap = [f"UPDATE {table} SET id = {b} WHERE id = {a}" for a, b in steps]
            trial(home, trials, "rows swapped", f"{table} {one} {two}", lambda s=swap: home.sql(*s))


def bits(home: Home, trials: Trials, many: int) -> None:
    """Flip single bits of rows, of the database's file, of notes and of kept files."""
    chance = random.Random(SEED)
    cells = [
        (t, c, n, v) for t, c, rows in columns(home) for n, v in rows if isinstance(v, str) and v
    ]
    for table, column, number, value in chance.choices(cells, k=many):
        raw = bytearray(value.encode())
        raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
        told = f"UPDATE {table} SET {column} = CAST(? AS TEXT) WHERE id = {number}"
        new = bytes(raw)
        trial(home, trials, "bit of a row", told, lambda t=told, n=new: home.sql(t, values=(n,)))
    vault = sorted(p for p in (home.home / "vault").rglob("*") if p.is_file())
    groups = (
        ("bit of the file record.db", [home.home / FILE]),
        ("bit of a vault note", [p for p in vault if p.suffix == ".json"]),
        ("bit of a kept file", [p for p in vault if not p.suffix]),
    )
    for kind, paths in groups:
        for _ in range(many):
            path = chance.choice(paths)
            at, bit = chance.randrange(path.stat().st_size), chance.randrange(8)
            what = f"{path.name[:12]} byte {at} bit {bit}"
            trial(home, trials, kind, what, lambda p=path, a=at, b=bit: flip(p, a, b))


def pages(home: Home, trials: Trials, many: int) -> None:
    """Overwrite whole pages of the database, and cut it short: the check must still end."""
    chance = random.Random(SEED)
    path = home.home / FILE
    size = path.stat().st_size
    for _ in range(many):
        raw = bytearray(path.read_bytes())
        way, page = chance.choice(("zeros", "noise", "cut")), chance.randrange(size // PAGE)
        if way == "cut":
            raw = raw[: chance.randrange(size)]
        else:
            raw[page * PAGE : (page + 1) * PAGE] = (
                bytes(PAGE) if way == "zeros" else chance.randbytes(PAGE)
            )
        what, new = f"{way} at page {page}", bytes(raw)
        kind = "bit of the file, whole pages"
        trial(home, trials, kind, what, lambda n=new: path.write_bytes(n) and None)


def flip(path: Path, at: int, bit: int) -> None:
    """Flip one bit of a file."""
    path.chmod(0o644)
    raw = bytearray(path.read_bytes())
    raw[at] ^= 1 << bit
    path.write_bytes(bytes(raw))


def run(*, rows: int, each: int, many: int) -> Trials:
    """Do all trials in a home that is thrown away."""
    trials = Trials()
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder))
        assert home.problems() == [], home.problems()
        edits(home, trials, rows, each)
        rows_gone_and_swapped(home, trials)
        bits(home, trials, many)
        pages(home, trials, many)
    return trials


if __name__ == "__main__":
    short = "--short" in sys.argv
    done = run(rows=1, each=1, many=40) if short else run(rows=99, each=3, many=2000)
    for line in (*done.lines(), *done.missed, *done.crashed):
        print(line)  # noqa: T201
    sys.exit(bool(done.missed or done.crashed))
