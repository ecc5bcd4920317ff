"""Heard words to a spaCy `Doc`, one token a part of a heard word, read back where they need it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from capture.observed import Word
from extract.mend.rescue import rescue
from extract.words.parts import parts_of, words_of


def to_doc(words: Sequence[Word] | str, taught: Sequence[tuple[str, str]] = ()) -> Any:
    """Make a `Doc` of heard words, or of typed text; extensions: see `_extend`.

    Heard words are read back where they only sound like a word of the trade, or are `taught` by the
    owner as (heard, meant); typed ones are not.
    """
    from spacy.tokens import Doc

    _extend()
    typed = isinstance(words, str)
    if isinstance(words, str):
        words = tuple(Word(text, 0.0, 0.0) for text in words_of(words))
    parts = parts_of([word.text for word in words])
    if not typed:
        parts = rescue(parts, taught)
    doc = Doc(_vocab(), words=[part.norm for part in parts] or None)
    doc._.words, doc._.parts = tuple(words), parts
    return doc


def language() -> Any:
    """Make a blank English pipeline whose tokens are ours; `extract.read` adds the components."""
    from spacy.lang.en import English

    return English(_vocab(), create_tokenizer=lambda nlp: to_doc)


@cache
def _vocab() -> Any:
    from spacy.vocab import Vocab

    return Vocab()


@cache
def _extend() -> None:
    from spacy.tokens import Doc

    # words: the heard words; parts: their parts, one a token; the rest is filled by the components.
    for name in (
        "words",
        "parts",
        "candidates",
        "told",
        "outline",
        "proposed",
        "statements",
        "barred",
    ):
        Doc.set_extension(name, default=(), force=True)
