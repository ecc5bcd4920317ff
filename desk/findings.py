"""Bad news as people meet it: one mark, one word and one caution, the same on every screen."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from extract.values.adverse import Finding

if TYPE_CHECKING:  # the terminal's words are needed before any record is opened
    from extract.values.catalogue import Catalogue
    from record.adverse import Bad

MARK = "▲"  # stands beside bad news alone, never beside a value that is merely there
WORDS = {True: "ADVERSE", False: "HEED"}


def marked(finding: Finding) -> str:
    """Give mark and word: `▲ ADVERSE: drain not closed`."""
    return f"{MARK} {WORDS[finding.stands]}: {finding.word}"


def cautioned(finding: Finding) -> str:
    """Give the caution with where it is from."""
    return f"{finding.caution.text} ({finding.caution.source})"


def shown(bad: Bad, catalogue: Catalogue) -> str:
    """Give a value with its field: `drain closed: no`."""
    from record.closing import label

    field = catalogue.fields[bad.name]
    value = field.show(bad.value)
    why = f", {bad.finding.why}" if bad.finding.why else ""
    return f"{label(bad.name, bad.position, catalogue)}: {value}{why}"


def lines(found: Iterable[Bad], catalogue: Catalogue) -> list[str]:
    """Give bad news for the terminal, each with its caution below it."""
    made = []
    for bad in found:
        told = (
            f"entered by {bad.entry.by}"
            if bad.entry
            else f"draft {bad.waits.id}, not decided"
            if bad.waits
            else ""
        )
        made += [f"{marked(bad.finding)} ({shown(bad, catalogue)}), {told}"]
        made += [f"    {cautioned(bad.finding)}"]
    return made


def card(finding: Finding) -> dict[str, Any]:
    """Give what a page needs of a finding."""
    return {
        "mark": MARK,
        "word": WORDS[finding.stands],
        "told": finding.word,
        "why": finding.why,
        "caution": finding.caution.text,
        "source": finding.caution.source,
        "stands": finding.stands,
    }
