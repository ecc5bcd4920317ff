"""The door: help, codes, and what a person sees when something goes wrong."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from capture.errors import CowlnoteError, ExitCode
from desk import cli

COMMANDS = [
    *("begin", "intake", "try", "drafts", "review", "confirm", "amend", "reject", "add", "close"),
    *("entry", "find", "jobs", "check", "models", "demo", "lessons"),
]


def program(*args: str, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "desk", *args],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **env},
    )


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_its_help(cowlnote, command):
    ran = cowlnote(command, "--help")
    assert ran.code == 0
    assert len(ran.out.splitlines()[2].strip()) > 10


def test_the_programs_help_lists_every_command(cowlnote):
    out = cowlnote("--help").out
    assert all(f"\n  {command} " in out for command in COMMANDS)


def test_wrong_use_is_2(cowlnote):
    assert cowlnote("drafts", "--jobb", "1").code == ExitCode.USAGE
    assert cowlnote("nonsense").code == ExitCode.USAGE
    assert cowlnote("intake").code == ExitCode.USAGE


def test_begin_makes_a_home_that_the_other_commands_use(cowlnote, tmp_path):
    home = tmp_path / "new"
    ran = cowlnote("begin", "N0417Q", "--zone", "Europe/Berlin", at=home)
    assert (ran.code, ran.out.count("\n")) == (0, 1)
    assert 'registration = "N0417Q"' in (home / "aircraft.toml").read_text("utf-8")
    again = cowlnote("begin", at=home)
    assert (again.code, again.err.count("\n")) == (3, 1)
    assert cowlnote("begin", "--zone", "Mars", at=tmp_path / "other").code == 3


def test_a_wrong_profile_stops_any_command_with_one_line(cowlnote, home):
    (home / "aircraft.toml").write_text("sump_capacty = 8", "utf-8")
    for command in (["jobs"], ["try", "x"], ["intake", str(home)]):
        ran = cowlnote(*command)
        assert ran.code == 3
        assert ran.err == (
            f"cowlnote: {home}/aircraft.toml: sump_capacty: no such key; is it sump_capacity?\n"
        )


def test_every_error_of_ours_ends_with_its_own_code_in_one_line(cowlnote, monkeypatch):
    from desk import opening

    for kind in CowlnoteError.__subclasses__():

        def fail(*_: object, kind: type[CowlnoteError] = kind) -> None:
            raise kind("what was wrong", "FILE", "what to do")

        monkeypatch.setattr(opening, "settings", fail)
        ran = cowlnote("jobs")
        assert (ran.code, ran.err) == (kind.code, "cowlnote: FILE: what was wrong; what to do\n")


def test_a_fault_in_the_program_is_one_line_and_1_and_debug_shows_where(cowlnote, monkeypatch):
    from desk import opening

    def fail(*_: object) -> None:
        raise ZeroDivisionError("a\nfault")

    monkeypatch.setattr(opening, "settings", fail)
    ran = cowlnote("jobs")
    assert ran.code == 1
    assert ran.err.count("\n") == 1
    assert "ZeroDivisionError: a fault" in ran.err
    with pytest.raises(ZeroDivisionError):
        cowlnote("--debug", "jobs")


def test_the_version_is_that_of_the_package(cowlnote):
    from importlib.metadata import PackageNotFoundError, version

    try:
        expected = version("cowlnote")
    except PackageNotFoundError:
        pytest.skip("the package is not installed")
    assert cowlnote("--version").out.strip() == expected


def test_the_real_program_takes_its_home_from_the_environment(tmp_path):
    ran = program("begin", COWLNOTE_HOME=str(tmp_path / "home"))
    assert ran.returncode == 0
    assert (tmp_path / "home" / "aircraft.toml").is_file()
    assert "Traceback" not in ran.stderr


def test_the_real_program_ends_with_its_code_and_no_traceback(tmp_path):
    ran = program("--home", str(tmp_path), "jobs")
    assert (ran.returncode, ran.stdout) == (5, "")
    assert ran.stderr.count("\n") == 1


def test_a_closed_pipe_is_no_traceback(tmp_path):
    ran = subprocess.run(
        f"{sys.executable} -m desk --home {tmp_path} try - --json | head -1",
        shell=True,
        input="cowl is back on\n" * 20_000,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert "Traceback" not in ran.stderr


def test_the_door_is_the_only_place_that_turns_errors_into_codes():
    assert cli.app.info.cls is cli.Door
