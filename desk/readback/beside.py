"""What was read back of a draft, and what the speaker did about it: evidence, no confirmation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from desk.readback.journal import Item, Journal, every
from desk.readback.wording import Line
from extract.values.catalogue import Catalogue
from extract.values.defects import FINDINGS, likeness
from extract.values.draft import Draft
from record import media, readback


@dataclass(frozen=True, slots=True)
class Beside:
    """The journals of a home; `said` gives half a sentence for a draft of a job."""

    journals: Sequence[Journal]
    catalogue: Catalogue
    hashes: Mapping[int, Mapping[str, str]]

    @classmethod
    def of(cls, home: Path, session: Any, jobs: Iterable[int], catalogue: Catalogue) -> Beside:
        """Read what was told in a home; `session` names the files of these jobs."""
        journals = every(home, readback.noted(session))
        if not journals:
            return cls((), catalogue, {})
        hashes = {
            job: {one.name: one.sha256 for one in media.media(session, job)} for job in set(jobs)
        }
        return cls(journals, catalogue, hashes)

    def said(self, draft: Draft, job: int) -> str:
        """Say what was read back of a draft to whoever sent its recording; empty for nothing."""
        names = self.hashes.get(job, {})
        witnesses = {names.get(name, "") for name in (draft.media, *(e.media for e in draft.also))}
        for journal in self.journals:
            if not witnesses.isdisjoint(journal.sent):
                history = self._history(journal, draft, job)
                if history:
                    return self._words(draft, history)
        return ""

    def _history(self, journal: Journal, draft: Draft, job: int) -> list[tuple[Item, Line]]:
        place = "" if draft.position is None else str(draft.position)
        own = set(self.hashes.get(job, {}).values())
        found = []
        for item in journal.items:
            sent = journal.by_key(item.memo) if item.memo else None
            if item.job != job and (sent is None or sent.sha256 not in own):
                continue
            for line in item.lines:
                if line.field != draft.name:
                    continue
                if draft.name in FINDINGS:
                    alike = likeness(line.value or line.place, draft.value) >= 0.5
                else:
                    alike = line.place == place
                if alike:
                    found.append((item, line))
        return found

    def _words(self, draft: Draft, history: Sequence[tuple[Item, Line]]) -> str:
        item, last = history[-1]
        at = _at(item.told_at)
        if not last.value:
            return f"read back, and taken back at {at}"
        if not self._same(draft, last):
            return f"read back at {at} as {last.text}, which is not this"
        if last.doubt:
            return f"asked about at {at}, and not answered"
        others = [one for one in history if one[1].value and not self._same(draft, one[1])]
        if others and item.kind == "changed":
            return f"read back at {_at(others[-1][0].told_at)} as {others[-1][1].text}, heard again"
        if len(history) > 1 and history[-2][1].doubt and history[-2][1].value:
            asked = history[-2][0]
            how = "answered" if asked.memo != item.memo else "then heard without a doubt"
            return f"asked about at {_at(asked.told_at)}, and {how}"
        if others:
            return f"corrected after read-back at {_at(others[-1][0].told_at)}"
        return f"read back at {at}, not corrected"

    def _same(self, draft: Draft, line: Line) -> bool:
        if draft.name in FINDINGS:
            return True
        field = self.catalogue.fields.get(draft.name)
        return field is not None and field.kind_object.same(
            draft.value, field.kind_object.load(line.value)
        )


def _at(moment: datetime) -> str:
    return f"{moment:%H:%M}"
