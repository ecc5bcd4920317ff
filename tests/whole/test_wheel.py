"""The built wheel, installed outside the checkout: it carries all that the program reads."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> Path:
    """The wheel's files in a folder of their own; dependencies are those of this environment."""
    place = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(place / "dist")]
    subprocess.run(build, cwd=TOP, check=True, capture_output=True)
    (wheel,) = (place / "dist").glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(place / "lib")
    return place


def _first(place: Path) -> str:
    return f"import sys; sys.path.insert(0, {str(place / 'lib')!r}); "


def run(place: Path, *words: str) -> subprocess.CompletedProcess[str]:
    code = (
        f"import sys; sys.path.insert(0, {str(place / 'lib')!r}); from desk.cli import main; main()"
    )
    env = {
        **{k: v for k, v in os.environ.items() if not k.startswith(("COWLNOTE", "PYTHON"))},
        "COWLNOTE_HOME": str(place / "home"),
        "COWLNOTE_MODELS": str(place / "models"),
        "PYTHONPATH": sysconfig.get_paths()["purelib"],
    }
    return subprocess.run(
        [sys.executable, "-P", "-c", code, *words],
        cwd=place,
        env=env,
        capture_output=True,
        text=True,
        timeout=300,
    )


def test_it_is_the_wheels_own_code_that_runs(installed):
    code = f"{_first(installed)}import desk; print(desk.__file__)"
    where = subprocess.run(
        [sys.executable, "-P", "-c", code], cwd=installed, capture_output=True, text=True
    ).stdout
    assert Path(where.strip()).is_relative_to(installed)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("begin", "N0417Q"), "made"),
        (("models", "list"), "base-hangar"),
        (("try", "torqued the filter to seventeen foot pounds"), "17"),
        (("demo", "--years"), "OIL SAMPLE SLIP"),
    ],
)
def test_a_command_finds_its_data_outside_the_checkout(installed, words, said):
    ran = run(installed, *words)
    assert (ran.returncode, ran.stderr) == (0, ran.stderr)
    assert said in ran.stdout


def test_the_demos_media_and_the_page_are_in_it(installed):
    lib = installed / "lib"
    for name in ("desk/demo_media/truth.toml", "desk/web/static/desk.css", "desk/data/asked.toml"):
        assert (lib / name).is_file(), name
