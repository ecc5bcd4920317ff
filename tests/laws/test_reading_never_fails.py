"""Whatever is said, reading gives drafts or none; it never fails, and its drafts can be kept."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from extract.read import read_memo, read_sentence
from extract.values.catalogue import load
from extract.values.draft import KEYS
from tests.conftest import transcript

CASES = Path(__file__).parent.parent / "extract" / "cases"
SENTENCES = sorted(
    case["say"]
    for path in CASES.glob("*.toml")
    for case in tomllib.loads(path.read_text(encoding="utf-8"))["case"]
)
WORDS = sorted({word for sentence in SENTENCES for word in sentence.split()})
CATALOGUE = load()

salad = st.lists(st.sampled_from(WORDS), min_size=1, max_size=25).map(" ".join)
halves = st.tuples(st.sampled_from(SENTENCES), st.sampled_from(SENTENCES), st.integers(0, 12)).map(
    lambda t: " ".join(t[0].split()[: t[2]] + t[1].split()[t[2] // 2 :]) or "um"
)
many = settings(
    max_examples=400, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)


@many
@given(st.one_of(salad, halves, st.text(max_size=80)))
def test_any_sentence_gives_drafts_that_can_be_kept(said):
    for draft in read_sentence(said, CATALOGUE):
        made = draft.to_json()
        assert tuple(made) == KEYS
        json.dumps(made)
        field = CATALOGUE.fields[draft.name]
        kind = field.kind_object
        assert kind.same(kind.load(kind.store(draft.value)), draft.value)
        assert 0 <= draft.confidence <= 1


@settings(parent=many, max_examples=150)
@given(st.lists(st.one_of(salad, halves), min_size=1, max_size=3))
def test_hearings_that_differ_wildly_are_read(said):
    heard = transcript(*said)
    for draft in read_memo(heard, CATALOGUE):
        assert draft.start is not None
        assert draft.end is not None
        assert 0 <= draft.start <= draft.end <= heard.duration_s
