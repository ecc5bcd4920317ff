"""How fast the record is searched: 100,000 invented spoken segments over ten years, made here.

Run `python benchmarks/search.py [FOLDER] [--segments N] [--url URL]`. Prints the figures and the
machine; asserts nothing.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import sqlite3
import statistics
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sqlalchemy import insert

from capture.observed import Instant, Kept
from record import jobs, media, queue, search
from record.store import Store
from record.tables import SegmentRow
from record.values import utc

# Invented sentences; {} is a figure. Every common word of the trade is in many of them.
SAID = (
    "torqued the filter to {} foot pounds",
    "tach reads {} point {}",
    "put in {} quarts of oil",
    "a little weeping at the filter base, keep an eye on it",
    "oil pressure {} psi and steady",
    "number {} seventy {} over eighty",
    "no metal in the pleats",
    "cowl is back on, all {} screws",
    "safety wired with oh three two, {} turns to the inch",
    "found a chafed hose at the left magneto, wrapped it",
    "pulled the oil sample midway through the drain",
    "let me move the light over here for a second",
    "where did that rag go",
)
KINDS = ("by the clock", "of processor time")
FIRST = datetime(2016, 1, 4, 9, 0, tzinfo=UTC)
ASKED = (
    "weep",
    "filter",
    "oil",
    "torqued filter",
    "magneto hose",
    "tach reads",
    "17",
    "keep eye",
    "rag",
)


def fill(store: Store, count: int) -> None:
    """Make `count` segments, a hundred a memo, four memos a service, and an entry a service."""
    chance = random.Random(17)  # noqa: S311 (the same record every time)
    memos = count // 100
    for memo in range(memos):
        began = FIRST + timedelta(days=3650 * memo / memos)
        with store.session() as session:
            kept = Kept(f"{memo:064x}", f"memo_{memo}.wav", 1, "memo", began)
            row = media.note(session, kept, Instant(began, "container"))
            job = jobs.job_for(session, began, new=memo % 4 == 0)
            media.join(session, row.id, job)
            rows = []
            for place in range(100):
                at = began + timedelta(seconds=7 * place)
                said = chance.choice(SAID).replace("{}", str(chance.randrange(1, 99)))
                rows.append(
                    {
                        "media_id": row.id,
                        "start_s": 7.0 * place,
                        "end_s": 7.0 * place + 5,
                        "said_at": at.isoformat(),
                        "said_utc": utc(at),
                        "text": said,
                    }
                )
            session.execute(insert(SegmentRow), rows)
            if memo % 4 == 0:
                queue.add(
                    session, job, "filter_torque", str(chance.randrange(16, 19)), "Ines Invented"
                )


def timed(store: Store, runs: int) -> list[tuple[float, float]]:
    """Give milliseconds (by the clock, of processor) of `runs` questions, a session for each."""
    chance = random.Random(4)  # noqa: S311
    took = []
    for _ in range(runs):
        day = date(2016, 1, 4) + timedelta(days=chance.randrange(3600))
        until = day + timedelta(days=chance.choice((1, 30, 365, 3650)))
        words = chance.choice(ASKED)
        asked = chance.choice(
            (
                {"words": words},
                {"words": words, "since": day, "until": until},
                {"since": day, "until": until, "words": ""},
                {"words": "", "field": "filter_torque"},
                {"words": "", "field": "filter_torque", "value": "17"},
            )
        )
        start, busy = time.perf_counter(), time.process_time()
        with store.session(write=False) as session:
            search.find(session, **asked)
        ended, idle = time.perf_counter(), time.process_time()
        took.append(((ended - start) * 1000, (idle - busy) * 1000))
    return took


def main() -> None:
    """Make the record if it is not there, ask, print."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("folder", nargs="?", type=Path)
    given.add_argument("--segments", type=int, default=100_000)
    given.add_argument("--url", help="a PostgreSQL database that is empty")
    args = given.parse_args()
    with tempfile.TemporaryDirectory() as made:
        store = Store.open(args.url or args.folder or Path(made))
        with store.session() as session:
            empty = not jobs.jobs(session)
        if empty:
            start = time.perf_counter()
            fill(store, args.segments)
            print(f"made {args.segments} segments in {time.perf_counter() - start:.1f} s")
        took = timed(store, 500)
        store.close()
    for what, column in zip(KINDS, zip(*took, strict=True), strict=True):
        ms = sorted(column)
        print(
            f"find, 500 questions, {what}: median {statistics.median(ms):.1f} ms, "
            f"95th percentile {ms[474]:.1f} ms, longest {ms[-1]:.1f} ms"
        )
    engine = store.engine.dialect.name
    print(
        f"{engine} (SQLite {sqlite3.sqlite_version}), Python {platform.python_version()}, "
        f"{platform.machine()}, {os.cpu_count()} processors"
    )


if __name__ == "__main__":
    main()
