"""What the installed wheels carry is what `docs/licences.md` says that they carry."""

from __future__ import annotations

import re
from importlib import metadata
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
PAGE = (TOP / "docs" / "licences.md").read_text("utf-8")
# Codecs and libraries that FFmpeg's LICENSE.md lists as GPL, by the names of their files.
GPL = re.compile(r"lib(x264|x265|xvidcore|vidstab|rubberband|postproc|cdio|davs2|xavs2?)\b")
NAMES = {"av": "PyAV", "pillow-heif": "pillow-heif"}


def carried(package: str) -> set[str]:
    """Give the GPL libraries of an installed package, by the names of its files."""
    files = metadata.files(package) or []
    return {found[1] for file in files if (found := GPL.search(file.name))}


def row(package: str) -> str:
    return next(line for line in PAGE.splitlines() if line.startswith(f"| {NAMES[package]} "))


@pytest.mark.parametrize("package", NAMES)
def test_each_gpl_codec_of_a_wheel_is_named_and_no_other(package):
    if not (metadata.files(package) and any(".libs/" in str(f) for f in metadata.files(package))):
        pytest.skip(f"{package} was built here and carries no libraries")
    assert carried(package) == set(re.findall(r"\*\*(x26[45])\*\*", row(package)))


def test_no_other_wheel_carries_a_gpl_codec():
    """By the file names of every package that the lock installs."""
    lock = (TOP / "locks" / "run.txt").read_text("utf-8")
    names = set(re.findall(r"^([A-Za-z0-9_.-]+)==", lock, re.MULTILINE)) - set(NAMES)
    installed = [d for d in metadata.distributions() if d.metadata["Name"] in names]
    assert len(installed) > 20
    assert {d.metadata["Name"]: c for d in installed if (c := carried(d.metadata["Name"]))} == {}


def test_packages_that_are_not_permissive_are_named():
    """By what each package says of itself."""
    strict = re.compile(r"\b(A?GPL|LGPL|MPL|GNU|Mozilla|EUPL|CDDL|EPL)", re.IGNORECASE)
    lock = (TOP / "locks" / "run.txt").read_text("utf-8")
    for name in re.findall(r"^([A-Za-z0-9_.-]+)==", lock, re.MULTILINE):
        try:
            told = metadata.metadata(name)
        except metadata.PackageNotFoundError:
            continue  # for another platform
        said = [told.get("License-Expression") or "", (told.get("License") or "")[:200]]
        said += [c for c in told.get_all("Classifier") or [] if c.startswith("License")]
        if any(strict.search(one) for one in said):
            assert name in PAGE, (name, said)
