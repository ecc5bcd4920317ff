"""Sentences and memos to drafts: the pipeline from words to values.

A blank spaCy pipeline runs three components of ours over the words: `told` (the exact candidates,
and what the trained reader says of them), `proposals` (values for fields), and `statements` (what
holds of them in the end).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

from capture.observed import Transcript, Word
from extract.claims.cues import named
from extract.claims.encoder import read
from extract.claims.possible import hold_to_words
from extract.claims.proposals import chosen, of_values
from extract.claims.recurring import dated
from extract.claims.states import of_states
from extract.exact.candidates import candidates
from extract.exact.measures import as_said
from extract.mend.doc import language, to_doc
from extract.settle.settled import settle
from extract.talk.outline import Element, clause_starts, outline, sentences
from extract.talk.statements import Statement
from extract.values.catalogue import Catalogue, Field
from extract.values.defects import FINDINGS, one_thing
from extract.values.draft import Alternative, Draft
from extract.values.known import NOTHING, Known
from extract.witness.confidence import faint, of_text, of_verdict, thresholds
from extract.witness.fuse import fuse
from extract.witness.hearings import Verdict, compare
from extract.witness.meters import due, expect, fits
from extract.witness.teens import sounded, too
from extract.words.parts import heard, span_words

READ_BACK = "a figure seems misheard and was put right by its sound"
AHEAD = "this day has not come yet"
LONG_AGO, LONG_AGO_DAYS = "this day was over a year before it was told", 400
TAUGHT = "a word was put right in the way that your profile says"


def read_sentence(text: str, catalogue: Catalogue, known: Known = NOTHING) -> tuple[Draft, ...]:
    """Read typed words into drafts; they have no time."""
    doc = _pipeline(catalogue, known.on.year if known.on else None)(to_doc(text))
    told = dated(doc._.statements, known.on)
    drafts = [
        _in_time(expect(draft_of(doc, s, "", None), catalogue, known), known.on) for s in told
    ]
    return fuse(drafts, catalogue, known)


def read_memo(
    transcript: Transcript, catalogue: Catalogue, known: Known = NOTHING
) -> tuple[Draft, ...]:
    """Read a memo into drafts: every hearing, compared as values."""
    drop, doubt = thresholds()
    drafts: list[Draft] = []
    dropped: list[Draft] = []
    for verdict, draft in verdicts(transcript, catalogue, known):
        barred = len(verdict.barred_models) > len(verdict.field_models)
        if barred and not fits(draft, known):
            continue
        if draft.confidence < drop:
            dropped.append(draft)
            continue
        reasons = _reasons(verdict, catalogue)
        lone = len(verdict.value_models) < 2 <= len(verdict.models)
        torn = lone or verdict.barred_models or verdict.other_values
        if draft.confidence < doubt or torn:
            draft = draft.with_doubt(*(reasons or ("it was not heard clearly; listen again",)))
        draft = draft.with_doubt(*faint(verdict), *_unheard(draft, transcript))
        draft = _sized(draft, catalogue.fields[draft.name])
        drafts.append(_in_time(draft, _day(transcript, known)))
    found = too(fuse(drafts, catalogue, known), catalogue)
    return tuple(_beside(d, dropped, catalogue) for d in found)


def _unheard(draft: Draft, transcript: Transcript) -> tuple[str, ...]:
    """Doubt what others heard where the first hearing has no word: it may be noise."""
    if draft.start is None or draft.end is None:
        return ()
    first, *others = transcript.hearings
    near = any(w.end_s > draft.start and w.start_s < draft.end for w in first.words)
    return () if near or not others else ("the first listening heard nothing here; listen again",)


def _sized(draft: Draft, field: Field) -> Draft:
    """Doubt a size that nobody makes: of what sounds alike, *thirty* and *forty*, one is made."""
    value = draft.value
    if not isinstance(value, Decimal) or not field.plausible(value) or field.made_in(value):
        return draft
    shown = field.kind_object.show(value, field.unit)
    return draft.with_doubt(f"{shown} is no usual size of this; listen again")


def _in_time(draft: Draft, day: date | None) -> Draft:
    """Doubt a day of work that was still to come when it was told, or long gone: it is misheard."""
    if day is None or draft.name != "service_date" or not isinstance(draft.value, date):
        return draft
    if draft.value > day:
        return draft.with_doubt(AHEAD)
    return draft.with_doubt(LONG_AGO) if (day - draft.value).days > LONG_AGO_DAYS else draft


def _beside(draft: Draft, dropped: Sequence[Draft], catalogue: Catalogue) -> Draft:
    """Doubt a draft beside which another value was heard too faintly to be a draft itself."""
    field = catalogue.fields[draft.name]
    same = field.kind_object.same
    for other in dropped:
        said = [draft.value, *(a.value for a in draft.alternatives)]
        alike = one_thing(other, draft) if draft.name in FINDINGS else other.slot == draft.slot
        if alike and not any(same(other.value, value) for value in said):
            shown = field.kind_object.show(other.value, field.unit)
            faint = Alternative(other.value, 0.1, "heard faintly")
            draft = replace(
                draft.with_doubt(f"{shown} may have been said as well"),
                alternatives=(*draft.alternatives, faint),
            )
    return draft


def verdicts(
    transcript: Transcript, catalogue: Catalogue, known: Known = NOTHING
) -> list[tuple[Verdict, Draft]]:
    """Compare the hearings of a memo; each verdict with its draft, none dropped or doubted yet."""
    pipeline = _pipeline(catalogue, _year(transcript, known))
    hearings = [h for h in transcript.hearings if h.words]
    docs = [(pipeline(to_doc(h.words, known.heard)), h.model) for h in hearings]
    for doc, _ in docs:
        doc._.statements = dated(due(doc, catalogue, known), _day(transcript, known))
    made = []
    shown = transcript.shown.model if transcript.shown else ""
    for verdict in compare(docs, catalogue, shown):
        statement = verdict.event.statement
        if statement is None:
            continue
        draft = draft_of(docs[verdict.event.hearing][0], statement, transcript.media, transcript)
        others = tuple(
            Alternative(v, round(0.5 * len(m) / len(verdict.models), 2), "another hearing")
            for v, m in verdict.other_values
        )
        alternatives = (*draft.alternatives, *others)
        confidence = of_verdict(verdict)
        draft = replace(draft, confidence=confidence, alternatives=alternatives)
        draft = sounded(draft, catalogue.fields[draft.name])
        made.append((verdict, expect(draft, catalogue, known)))
    return made


def _reasons(verdict: Verdict, catalogue: Catalogue) -> tuple[str, ...]:
    """Say in words what speaks against a verdict."""
    if verdict.event.statement is None:
        return ()
    field = catalogue.fields[verdict.event.statement.name]
    reasons = []
    if verdict.other_values:
        shown = ", ".join(field.kind_object.show(v, field.unit) for v, _ in verdict.other_values)
        reasons.append(f"it may also have been {shown}")
    if len(verdict.models) > 1 and len(verdict.value_models) < 2:
        reasons.append("listened to in several ways, only one heard this value")
    if verdict.barred_models:
        reasons.append("it may have been a plan, a limit or a memory, not something done today")
    if verdict.other_fields:
        reasons.append("this may have been said of something else")
    if not verdict.unmended_models:
        reasons.append("a word seems misheard and was put right by its sound")
    return tuple(reasons)


def _day(transcript: Transcript, known: Known) -> date | None:
    return transcript.began.at.date() if transcript.began is not None else known.on


def _year(transcript: Transcript, known: Known) -> int | None:
    day = _day(transcript, known)
    return day.year if day else None


def statements_of(words: Sequence[Word] | str, catalogue: Catalogue, year: int | None) -> Any:
    """Run the pipeline and give the `Doc`."""
    return _pipeline(catalogue, year)(to_doc(words))


@cache
def _pipeline(catalogue: Catalogue, year: int | None) -> Any:
    from spacy.language import Language

    if not Language.has_factory("cowlnote_told"):
        _register()
    nlp = language()
    for name in ("told", "proposals", "statements"):
        nlp.add_pipe(f"cowlnote_{name}", config={"year": year})
        nlp.get_pipe(f"cowlnote_{name}").catalogue = catalogue
    return nlp


def _register() -> None:
    from spacy.language import Language

    for name, fill in (("told", _told), ("proposals", _proposals), ("statements", settle)):

        def make(nlp: Any, name: str, year: int | None, fill: Any = fill) -> Any:
            return Component(fill, year)

        Language.factory(f"cowlnote_{name}", default_config={"year": None}, func=make)


def _told(doc: Any, catalogue: Catalogue, year: int | None) -> None:
    """Fill `candidates`, `told` and `outline`."""
    doc._.candidates = candidates(doc, catalogue)
    doc._.told = read(doc._.parts, doc._.candidates)
    hold_to_words(doc._.told, doc._.candidates, catalogue)
    cut = chosen(doc._.candidates, doc._.told)
    doc._.outline = outline(doc._.parts, [doc._.candidates[n] for n in cut])


def _proposals(doc: Any, catalogue: Catalogue, year: int | None) -> None:
    """Fill `proposed`."""
    said = named(doc._.outline, catalogue, tuple(catalogue.fields))
    doc._.proposed = (
        *of_values(doc, catalogue, year, said),
        *of_states(doc, catalogue, said),
    )


class Component:
    """A component that fills what `fill` fills; `catalogue` is set after it is made."""

    def __init__(self, fill: Any, year: int | None) -> None:
        self.fill, self.year = fill, year
        self.catalogue: Catalogue | None = None

    def __call__(self, doc: Any) -> Any:
        """Fill the extensions of a `Doc`."""
        if self.catalogue is not None:
            self.fill(doc, self.catalogue, self.year)
        return doc


def _phrase_start(doc: Any, statement: Statement) -> int:
    """Give the element at which the phrase begins that states a value.

    That is the beginning of its sentence, or what comes behind the statement before it: a person
    who plays the words hears what they were said of.
    """
    elements = doc._.outline
    begin = _begin(doc, statement.first)
    others = [
        s
        for s in _ending_after(doc, begin)
        if s.element != statement.element and begin <= s.last < statement.first
    ]
    if not others:
        return begin
    last = max(others, key=lambda s: s.last)
    clauses = clause_starts(elements, begin, statement.first + 1)
    found = next((c for c in clauses if c > last.last), None)
    if found is None:  # "six quarts of fifteen W fifty": one phrase states both
        return _phrase_start(doc, last)
    return found - (
        found > last.last + 1 and elements[found - 1].norm in ("and", "but", "so", "then")
    )


def _begin(doc: Any, element: int) -> int:
    """Give the first element of the sentence that an element stands in."""
    if "begins" not in doc.user_data:
        doc.user_data["begins"] = [a for a, _ in sentences(doc._.outline)]
    begins: list[int] = doc.user_data["begins"]
    return begins[bisect_right(begins, element) - 1]


def _ending_after(doc: Any, begin: int) -> list[Statement]:
    """Give the statements that end in the sentence which begins at an element."""
    kept = doc.user_data.get("ending")
    if kept is None or kept[0] is not doc._.statements:  # they were dated since
        found: dict[int, list[Statement]] = {}
        for statement in doc._.statements:
            found.setdefault(_begin(doc, statement.last), []).append(statement)
        kept = doc.user_data["ending"] = (doc._.statements, found)
    return list(kept[1].get(begin, ()))


def draft_of(doc: Any, statement: Statement, media: str, transcript: Transcript | None) -> Draft:
    """Give the draft that a statement of a read `Doc` makes; its time is that of `transcript`."""
    elements, words = doc._.outline, doc._.words
    start = elements[_phrase_start(doc, statement)].start
    end = elements[statement.last].end
    first, last = span_words(doc._.parts, start, end)
    spoken = words[first : last + 1]
    own = elements[statement.element]
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
        doubts=(*statement.doubts, *_mended(doc, own, start, end)),
        alternatives=statement.alternatives,
        trail=statement.trail,
        said=_as_said(own, statement),
    )


def _mended(doc: Any, own: Element, start: int, end: int) -> Iterator[str]:
    """Give the doubts that words raise which were put right before they were read."""
    if own.what is not None and any(part.rescued for part in doc._.parts[own.start : own.end]):
        yield READ_BACK
    if any(part.taught for part in doc._.parts[start:end]):
        yield TAUGHT  # no fit has seen what an owner teaches


def _as_said(own: Element, statement: Statement) -> str | None:
    """Give number and unit as they were said, where that is not the unit of the field."""
    for reading in own.what.readings if own.what else ():
        if isinstance(reading.value, Decimal):
            said = as_said(reading.value, reading.unit, statement.value, statement.unit)
            if said is not None:
                return said
    return None
