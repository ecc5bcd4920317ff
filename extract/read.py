"""Sentences and memos to drafts: the pipeline from words to values.

A blank spaCy pipeline runs four components of ours over the words: `outline` (numbers, units, dates,
codes), `assertions`, `statements` (values bound to fields, corrections applied), and `drafts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from capture.observed import Transcript, Word
from extract.assertions import judge
from extract.catalogue import Catalogue
from extract.confidence import of_text
from extract.corrections import correct, stated
from extract.doc import heard, span_words, to_doc
from extract.draft import Draft
from extract.fields import read_numbers
from extract.fuse import fuse
from extract.known import NOTHING, Known
from extract.outline import outline
from extract.statements import Statement, page
from extract.texts import read_texts
from extract.truths import read_truths


def read_sentence(text: str, catalogue: Catalogue, known: Known = NOTHING) -> tuple[Draft, ...]:
    """Read typed words into drafts; they have no time."""
    doc = _pipeline(catalogue, known.on.year if known.on else None)(to_doc(text))
    drafts = [_draft(doc, s, "", None) for s in doc._.statements]
    return fuse(drafts, catalogue, known)


def read_memo(
    transcript: Transcript, catalogue: Catalogue, known: Known = NOTHING
) -> tuple[Draft, ...]:
    """Read a memo into drafts: every hearing, compared as values."""
    doc = _pipeline(catalogue, _year(transcript, known))(to_doc(transcript.words))
    drafts = [_draft(doc, s, transcript.media, transcript) for s in doc._.statements]
    return fuse(drafts, catalogue, known)


def _year(transcript: Transcript, known: Known) -> int | None:
    if transcript.began is not None:
        return transcript.began.at.year
    return known.on.year if known.on else None


def statements_of(words: Sequence[Word] | str, catalogue: Catalogue, year: int | None) -> Any:
    """Run the pipeline and give the `Doc`."""
    return _pipeline(catalogue, year)(to_doc(words))


@cache
def _pipeline(catalogue: Catalogue, year: int | None) -> Any:
    from spacy.language import Language

    from extract.doc import language

    if not Language.has_factory("cowlnote_outline"):
        _register()
    nlp = language()
    nlp.add_pipe("cowlnote_outline")
    nlp.add_pipe("cowlnote_assertions")
    nlp.add_pipe("cowlnote_statements", config={"year": year})
    nlp.get_pipe("cowlnote_statements").catalogue = catalogue
    return nlp


def _register() -> None:
    from spacy.language import Language

    @Language.component("cowlnote_outline")
    def add_outline(doc: Any) -> Any:
        doc._.outline = outline(doc._.parts)
        return doc

    @Language.component("cowlnote_assertions")
    def add_assertions(doc: Any) -> Any:
        doc._.judged = judge(doc._.outline)
        return doc

    @Language.factory("cowlnote_statements", default_config={"year": None})
    def make_statements(nlp: Any, name: str, year: int | None) -> Any:
        return Statements(year)


class Statements:
    """The component that binds values to fields; `catalogue` is set after it is made."""

    def __init__(self, year: int | None) -> None:
        self.year = year
        self.catalogue: Catalogue | None = None

    def __call__(self, doc: Any) -> Any:
        """Fill `doc._.statements`."""
        assert self.catalogue is not None
        found = page(doc._.outline, self.catalogue)
        values = [
            *read_numbers(found, self.catalogue),
            *read_texts(found, self.catalogue, self.year),
        ]
        values = stated(found, doc._.judged, values)
        values = correct(found, doc._.judged, values, self.catalogue)
        states = read_truths(found, doc._.judged, self.catalogue)
        doc._.statements = tuple(sorted([*values, *states], key=lambda s: s.slot))
        return doc


def _draft(doc: Any, statement: Statement, media: str, transcript: Transcript | None) -> Draft:
    slots, words = doc._.outline, doc._.words
    start = slots[statement.first].start
    end = slots[statement.last].end
    first, last = span_words(doc._.parts, start, end)
    spoken = words[first : last + 1]
    return Draft(
        name=statement.name,
        value=statement.value,
        unit=statement.unit,
        position=statement.position,
        media=media,
        start=spoken[0].start_s if transcript else None,
        end=spoken[-1].end_s if transcript else None,
        said_at=transcript.moment(spoken[0].start_s) if transcript else None,
        heard=heard(spoken),
        confidence=of_text(statement),
        doubts=statement.doubts,
        alternatives=statement.alternatives,
    )
