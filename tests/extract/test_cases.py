"""Sentences and all that may be drafted from them; the sentences are data, in cases/*.toml."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from extract.read import read_sentence
from extract.values.catalogue import Catalogue, load
from extract.values.defects import FINDINGS
from extract.values.draft import plain
from extract.values.known import Known

CASES = Path(__file__).parent / "cases"


def _cases() -> list[Any]:
    found = []
    for path in sorted(CASES.glob("*.toml")):
        for case in tomllib.loads(path.read_text(encoding="utf-8"))["case"]:
            found.append(pytest.param(case, id=f"{path.stem}: {case['say'][:60]}"))
    return found


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load()


def _as_written(got: Any, wanted: Any) -> Any:
    """A conversion is not rounded (`5.2834…`); a case may write it so (`5.28`)."""
    if not isinstance(wanted, float) or isinstance(got, (bool, str)):
        return got
    return round(float(got), len(str(wanted).partition(".")[2]))


@pytest.mark.parametrize("case", _cases())
def test_sentence_gives_these_drafts_and_no_others(
    case: dict[str, Any], catalogue: Catalogue
) -> None:
    # the cases are older than findings and name only those that they are about
    drafts = [
        d
        for d in read_sentence(case["say"], catalogue, Known(on=case.get("on")))
        if d.name not in FINDINGS or d.name in case["gives"]
    ]
    got = {
        d.name if d.position is None else f"{d.name}/{d.position}": plain(d.value) for d in drafts
    }
    got = {k: _as_written(v, case["gives"].get(k)) for k, v in got.items()}
    optional = case.get("may", [])
    wanted = {k: v for k, v in case["gives"].items() if k in got or k.split("/")[0] not in optional}
    extra = {k for k in got if k not in case["gives"] and k.split("/")[0] in optional}
    assert {k: v for k, v in got.items() if k not in extra} == wanted
    doubted = {d.name for d in drafts if d.doubts}
    assert set(case.get("doubt", [])) <= doubted
    assert not set(case.get("sure", [])) & doubted
