"""What the desk must do, told without it: a model of one job, and the values that its tests give.

The model knows drafts, the values that stand in each slot, whose they are and from which draft
they came. It is written from the issue's words, not from the program.
"""

from __future__ import annotations

import html
import json
import re
from dataclasses import dataclass, field
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

# What is typed of each field, and how it is then shown. The doubtful ones lie outside the range
# that the catalogue has for the field (docs/fields.md): nobody torques a filter to 175 ft-lb.
GOOD = {
    "filter_torque": {"17": "17 ft-lb", "18": "18 ft-lb", "16.5": "16.5 ft-lb"},
    "tach_time": {"1981.4": "1981.4 h", "1999": "1999 h", "2345.7": "2345.7 h"},
    "oil_added": {"7.25": "7.25 qt", "6": "6 qt"},
    "oil_grade": {"sae 50": "SAE 50", "20w-50": "20W-50"},
    "cowling_installed": {"yes": "yes", "no": "no"},
}
DOUBTFUL = {
    "filter_torque": {"175": "175 ft-lb"},
    "tach_time": {"98765": "98765 h"},
    "oil_added": {"75": "75 qt"},
    "service_date": {"2999-03-14": "2999-03-14"},
}
LABELS = {
    "filter_torque": "filter torque",
    "tach_time": "tach time",
    "oil_added": "oil added",
    "oil_grade": "oil grade",
    "cowling_installed": "cowling installed",
    "service_date": "service date",
}


def doubtful(given: str, stood: str | None) -> bool:
    """Tell whether a value that a person gives needs a reason: by itself, or beside what stood.

    One with the figures of the value whose place it takes, and its point elsewhere (17.5 for 175),
    is the commonest slip of a pen.
    """
    if any(given in table.values() for table in DOUBTFUL.values()):
        return True
    old, new = ("".join(c for c in text or "" if c.isdigit()).strip("0") for text in (stood, given))
    return bool(old) and stood != given and old == new


@dataclass
class Stand:
    """A value in a slot: how it is shown (None where withdrawn), by whom, and from which draft."""

    shown: str | None
    by: str
    origin: int


@dataclass
class Model:
    """One job: the state of each draft by its number, and the stack of values of each slot."""

    states: dict[int, str] = field(default_factory=dict)
    slots: dict[str, list[Stand]] = field(default_factory=dict)
    closed: bool = False

    def top(self, label: str) -> Stand | None:
        """Give what stands in a slot, a withdrawal included."""
        stack = self.slots.get(label, [])
        return stack[-1] if stack else None

    def stands(self, label: str) -> str | None:
        """Give the value that stands in a slot, as it is shown."""
        found = self.top(label)
        return found.shown if found else None

    def enter(self, label: str, shown: str | None, by: str, origin: int) -> None:
        """Put a value on top of a slot."""
        self.slots.setdefault(label, []).append(Stand(shown, by, origin))

    def under(self, label: str, origin: int) -> bool:
        """Tell whether the value that a draft gave is not the top of its slot."""
        stack = self.slots.get(label, [])
        mine = [at for at, one in enumerate(stack) if one.origin == origin]
        return bool(mine) and mine[0] != len(stack) - 1

    def record(self) -> dict[str, tuple[str, str, int]]:
        """Give what the record must show: of each label its value, who entered it, which card."""
        return {
            label: (top.shown, top.by, top.origin)
            for label, stack in self.slots.items()
            if stack and (top := stack[-1]).shown is not None
        }


class _Rows(HTMLParser):
    """Reads the rows of the record page's table: label, value, address, who."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[dict[str, Any]] = []
        self.cell = -1
        self.link = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a row, a cell, or the link to the evidence."""
        if tag == "tr":
            self.rows.append({"href": "", "cells": []})
            self.cell = -1
        elif tag in ("td", "th") and self.rows:
            self.rows[-1]["cells"].append("")
        elif tag == "a" and self.rows and len(self.rows[-1]["cells"]) == 2:
            self.rows[-1]["href"] = dict(attrs)["href"]
            self.link = True

    def handle_endtag(self, tag: str) -> None:
        """End the link."""
        if tag == "a":
            self.link = False
        elif tag == "table":
            self.rows.append({"href": "", "cells": []})

    def handle_data(self, data: str) -> None:
        """Take the text of a cell; of the second, that of its link alone."""
        if self.rows and self.rows[-1]["cells"]:
            cells = self.rows[-1]["cells"]
            if len(cells) != 2 or self.link:
                cells[-1] += data


def record_of(page: str) -> dict[str, tuple[str, str, int]]:
    """Read the record page: of each label its value, who entered it, its card's number."""
    reader = _Rows()
    reader.feed(page)
    found = {}
    for row in reader.rows:
        if row["href"]:
            label, value, *_, by = (" ".join(c.split()) for c in row["cells"])
            label = label.partition(" ▲")[0]  # bad news has its mark behind the name
            number = re.search(r"#draft-(\d+)$", row["href"])
            assert number, f"{label} has no card: {row['href']}"
            assert label not in found, f"{label} stands twice"
            found[label] = (value, by, int(number.group(1)))
    return found


def entries_of(page: str) -> dict[int, dict[str, Any]]:
    """Read the entries that can be corrected: of each number, label and what a page sends of it."""
    made = {}
    for number, seen, words in re.findall(
        r'<option value="(\d+)" data-seen="([^"]*)">([^<]*): [^<:]*</option>', page
    ):
        made[int(number)] = {"label": html.unescape(words), "seen": json.loads(html.unescape(seen))}
    return made


def cards_of(page: str) -> dict[int, dict[str, Any]]:
    """Read the cards of a review page."""
    found = re.search(r'id="drafts">(.*?)</script>', page, re.DOTALL)
    assert found
    return {card["id"]: card for card in json.loads(found.group(1))}


def figure(text: str) -> Decimal:
    """Give an exact number."""
    return Decimal(text)
