from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from capture.observed import Hearing, Instant, Kept, Transcript, Word
from extract.values.draft import Draft
from record.store import Store

ZONE = timezone(timedelta(hours=1))
BEGAN = datetime(2026, 3, 14, 9, 12, 5, tzinfo=ZONE)
WHO = "Ines Invented"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def store(home: Path) -> Iterator[Store]:
    made = Store.open(home)
    yield made
    made.close()


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Give the URL of a PostgreSQL database: the one named, else one of a server started here."""
    if named := os.environ.get("COWLNOTE_TEST_POSTGRES"):
        assert "test" in named.rpartition("/")[2], "it is emptied, so its name must say `test`"
        yield named
        return
    tools = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    found = shutil.which("initdb") or (str(tools[-1]) if tools else None)
    if found is None:
        pytest.skip("NO POSTGRESQL: set COWLNOTE_TEST_POSTGRES to a server's URL to test on it")
    with tempfile.TemporaryDirectory(prefix="cowlnote_pg_") as folder:
        yield from _served(Path(found).parent, Path(folder))


def _served(tools: Path, folder: Path) -> Iterator[str]:
    as_user: dict[str, Any] = {}
    if os.geteuid() == 0:  # the server refuses to run as the superuser
        shutil.chown(folder, "postgres", "postgres")
        as_user = {"user": "postgres", "cwd": "/"}
    data, port = folder / "data", _free_port()

    def run(tool: str, *told: str) -> None:
        subprocess.run(
            [tools / tool, "-D", data, *told], check=True, stdout=subprocess.DEVNULL, **as_user
        )

    run("initdb", "-U", "cowlnote", "-A", "trust", "-E", "UTF8", "--no-sync")
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off"
    run("pg_ctl", "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"postgresql://cowlnote@127.0.0.1:{port}/postgres"
    finally:
        run("pg_ctl", "-m", "immediate", "stop")


def _free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


@pytest.fixture(params=["sqlite", "postgresql"])
def any_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """Give an empty record on each engine."""
    if request.param == "sqlite":
        made = Store.open(tmp_path / "home")
    else:
        url = request.getfixturevalue("postgres")
        engine = create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
        with engine.begin() as connection:
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        engine.dispose()
        made = Store.open(url)
    yield made
    made.close()


def draft(name: str = "filter_torque", value: Any = "17", **other: Any) -> Draft:
    """Make a draft as reading would; text that is a number becomes one."""
    with contextlib.suppress(ArithmeticError):
        value = Decimal(value) if isinstance(value, str) else value
    known = {
        "unit": "ft-lb",
        "position": None,
        "media": "memo_01.wav",
        "start": 12.4,
        "end": 15.1,
        "said_at": BEGAN + timedelta(seconds=12.4),
        "heard": f"torqued the filter to {value}",
        "confidence": 0.97,
    }
    return Draft(name, value, **{**known, **other})


def kept(name: str = "memo_01.wav", digit: str = "a", kind: str = "memo") -> Kept:
    return Kept(digit * 64, name, 1000, kind, datetime(2026, 3, 14, 8, 0, tzinfo=UTC))


def began(seconds: float = 0, **other: Any) -> Instant:
    return Instant(BEGAN + timedelta(seconds=seconds), "container", **other)


def spoken(text: str, media: str = "memo_01.wav", pause_after: int = 10**6) -> Transcript:
    """Make a transcript of words half a second apart, with a long pause after some of them."""
    words, at = [], 1.0
    for place, word in enumerate(text.split(), start=1):
        words.append(Word(word, at, at + 0.4, 0.9))
        at += 2.5 if place % pause_after == 0 else 0.5
    return Transcript(media, at, (Hearing("base", "beam 5", tuple(words)),), ((1.0, at),))
