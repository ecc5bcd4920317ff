"""Doubts are for a mechanic: no word in them that only this program's makers know."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
JARGON = r"\b(hearings?|models?|fields?|witness(es)?|slots?|drafts?|statements?|tokens?|parsed?)\b"
SOURCES = [p for room in ("extract", "record", "desk") for p in sorted((TOP / room).rglob("*.py"))]


def told(node: ast.AST) -> str:
    """Give the words of a string, of an f-string those that always stand in it."""
    return " ".join(
        str(one.value)
        for one in ast.walk(node)
        if isinstance(one, ast.Constant) and isinstance(one.value, str)
    )


def doubts(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        on = node.func.value
        name = on.id if isinstance(on, ast.Name) else ""
        kept = node.func.attr == "append" and name in ("doubts", "reasons")
        if kept or node.func.attr in ("doubted", "with_doubt"):
            found += [told(arg) for arg in node.args if not isinstance(arg, ast.Name)]
    return found


def test_there_are_doubts_to_look_at():
    assert sum(len(doubts(path)) for path in SOURCES) > 30


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(TOP)))
def test_a_doubt_has_no_word_of_the_trade_of_programs(path):
    assert [one for one in doubts(path) if re.search(JARGON, one, re.IGNORECASE)] == []
