"""What the recipe asks of the reader itself: a note's parts, its candidates, their values."""

from __future__ import annotations

from capture.observed import Word
from extract.claims.encoder import pieces_of as pieces
from extract.claims.encoder import signs_of
from extract.exact.candidates import candidates
from extract.exact.fitted import values_for
from extract.mend.doc import to_doc
from extract.values.catalogue import load

CATALOGUE = load()


def doc_of(text, by_ear=False):
    """Give a note's `Doc`; words that were heard are read back by their sound, as the program does."""
    return to_doc([Word(w, 0.0, 0.0) for w in text.split()] if by_ear else text)


def pieces_of(doc):
    return [list(piece) for piece in pieces(doc._.parts)]


def candidates_of(doc):
    return [
        {"a": c.start, "b": c.end, "signs": signs_of(c), "_": c} for c in candidates(doc, CATALOGUE)
    ]


def values_of(cand, name, year=None):
    field = CATALOGUE.fields.get(name)
    return list(values_for(cand["_"], field, year)) if field else []
