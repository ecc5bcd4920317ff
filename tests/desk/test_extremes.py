"""Every option of every command at its extremes: one clear line, and no fault in the program."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from desk import say
from desk.cli import app
from record.signs import STEERING
from tests.desk.conftest import Ran

TOP = Path(__file__).parents[2]
WHO = ("--by", "Ines Invented")
HUGE, LONG = "99999999999999999999", "9" * 5000
LAST, FIRST = "9999-12-31", "0001-01-01"
LAB = ("--lab", "North Lab", "--date", "2026-03-14", *WHO)


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # where `book` writes its paper


def commands(command, path=()):
    if hasattr(command, "commands"):
        for name, under in command.commands.items():
            yield from commands(under, (*path, name))
    else:
        yield path, command


NUMBERED = [
    (path, next(o for o in option.opts if o.startswith("--")))
    for path, command in commands(get_command(app))
    for option in command.params
    if any(o in ("--job", "--port", "--replaces", "--to", "--in") for o in option.opts)
]
GIVEN = {
    "add": ("oil_level", "7"),
    "amend": ("1", "17", "--because", "x"),
    "confirm": ("1",),
    "correct": ("e1", "17", "--because", "x"),
    "move": ("memo one.wav",),
    "aside": ("memo one.wav", "--because", "x"),
    "back": ("memo one.wav",),
    "clock": ("memo one.wav", "--shift", "+1h"),
    "defect": ("1.1", "cleared", "--because", "x"),
    "intake": ("none",),
    "lab add": ("Fe=22", *LAB[:4]),
    "lab read": ("none.jpg", *LAB[:4]),
    "signed": ("none.jpg",),
}


def one_line(ran: Ran, *codes: int) -> None:
    assert ran.code in codes, ran.err
    assert ran.err.count("\n") == (1 if ran.code else ran.err.count("\n")), ran.err
    assert len(ran.err) < 600
    assert "fault in the program" not in ran.err


@pytest.mark.parametrize(
    ("path", "option"), NUMBERED, ids=lambda p: p if isinstance(p, str) else " ".join(p)
)
def test_a_number_beyond_any_is_one_line(cowlnote, record, path, option):
    name = " ".join(path)
    by = WHO if any("--by" in p.opts for p in _command(path).params) else ()
    for value in (HUGE, LONG, "-1"):
        ran = cowlnote(*path, *GIVEN.get(name, ()), *by, f"{option}={value}")
        one_line(ran, 0, 2, 3, 7, 8)
        assert ran.code or name == "review"  # it says that nothing is waiting


def _command(path):
    return next(command for found, command in commands(get_command(app)) if found == path)


@pytest.mark.parametrize(
    "args",
    [
        ("find", "torqued", "--from", FIRST, "--to", LAST),
        ("find", "--value", "sNaN"),
        ("due", "--on", LAST),
        ("due", "--on", FIRST),
        ("due", "--tach", LONG),
        ("book", "--from", FIRST, "--to", LAST),
        ("add", "service_date", LAST, *WHO),
        ("add", "oil_level", LONG, *WHO),
        ("add", "oil_level", "1e400", *WHO),
        ("add", "oil_added", "1", "--on", FIRST, *WHO),
        ("meter", "--old", "1", "--new", LONG, "--on", FIRST, "--because", "x", *WHO),
        ("lab", "add", f"Fe={LONG}", *LAB),
        ("lab", "add", "Fe=١٢", *LAB),
        ("lab", "add", "Fe=2", "--hours", LONG, *LAB),
        ("lab", "add", "Fe=2", "--lab", "L", "--date", LAST, *WHO),
        ("clock", "memo one.wav", "--shift", "+70000000h", *WHO),
        ("intake", "none", "--clock-shift", "+70000000h"),
        ("intake", "none", "--clock-shift", f"{LONG}s"),
        ("torque", LONG),
        ("torque", "17", "--length", "0", "--adapter", "0"),
        ("confirm", LONG, *WHO),
        ("correct", f"e{HUGE}", "1", "--because", "x", *WHO),
        ("signed", LONG, *WHO),
        ("export", LONG),
        ("import", LONG),
        ("no-such-command",),
        ("drafts", "--job", "one"),
    ],
    ids=lambda args: " ".join(args)[:40],
)
def test_what_no_gauge_or_calendar_has_is_one_line(cowlnote, record, args):
    one_line(cowlnote(*args), 0, 2, 3, 7, 8)


def test_a_laboratory_with_a_stray_dollar_is_drawn(cowlnote, record, tmp_path):
    for day in ("2026-04-01", "2026-05-01", "2026-06-01"):
        figures = ("Fe=20", "--lab", "North $ Lab_{", "--date", day, *WHO)
        assert cowlnote("lab", "add", *figures).code == 0
    for ending in ("svg", "png", "pdf"):
        ran = cowlnote("trend", "--plot", tmp_path / f"plot.{ending}")
        assert ran.code == 0, ran.err
    assert "North $ Lab_{" in (tmp_path / "plot.svg").read_text("utf-8")


def test_signs_that_steer_are_written_out_on_the_screen(cowlnote, home, queued, draft):
    nasty = "memo\x1b[2J\u202e.wav"
    queued(
        [draft("leak_check", "pass", media=nasty, heard="no \x1b]0;leaks\x07", doubts=("\x9b",))]
    )
    for args in (("drafts",), ("jobs",), ("drafts", "--json"), ("entry",), ("checklist",)):
        ran = cowlnote(*args)
        assert ran.code == 0
        assert not STEERING.search(ran.out + ran.err)
    assert r"memo\x1b[2J\u202e.wav" in cowlnote("drafts").out
    assert cowlnote("drafts", "--json").data[0]["media"] == nasty
    assert cowlnote("confirm", "1", "--by", "Ines\u202e").code == 7


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437", "utf-8"])
def test_output_goes_into_a_file_of_any_encoding(home, queued, draft, encoding):
    queued([draft("leak_check", "fail", heard="a leak ✓ ﷺ")])
    for args in (("checklist",), ("drafts",), ("entry",), ("drafts", "--json")):
        ran = subprocess.run(
            [sys.executable, "-m", "desk", "--home", home, *args],
            cwd=TOP,
            capture_output=True,
            check=False,
            env={"PYTHONIOENCODING": encoding, "PATH": "/usr/bin:/bin", "PYTHONPATH": str(TOP)},
        )
        assert (ran.returncode, ran.stderr) == (0, b""), (args, ran.stderr)
        ran.stdout.decode(encoding)


def test_what_stands_for_a_sign_can_be_read():
    out = io.TextIOWrapper(io.BytesIO(), encoding="cp1252", newline="")
    say.any_encoding()
    out.reconfigure(errors="cowlnote")
    out.write("▲ leak ≤ 3 ✓ – ﷺ")
    out.flush()
    assert out.buffer.getvalue().decode("cp1252") == r"(!) leak <= 3 ok – \ufdfa"
