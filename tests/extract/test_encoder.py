"""The trained reader: what it is made of, and what it must not do whatever it was trained on."""

from __future__ import annotations

import hashlib
import shutil
import tomllib
from pathlib import Path

import pytest

from capture.errors import ModelMissingError
from extract.claims import encoder
from extract.exact.candidates import candidates
from extract.mend.doc import to_doc
from extract.read import read_sentence
from extract.values.catalogue import load

TOP = Path(__file__).parent.parent.parent


def told(text: str) -> encoder.Told:
    doc = to_doc(text)
    return encoder.read(doc._.parts, candidates(doc, load()))


def test_the_weights_are_those_that_the_manifest_names():
    raw = tomllib.loads((TOP / "models/manifest.toml").read_text("utf-8"))
    (reader,) = [one for one in raw["carried"] if one["name"] == "reader"]
    for file in reader["files"]:
        kept = (TOP / reader["folder"] / file["name"]).read_bytes()
        assert (len(kept), hashlib.sha256(kept).hexdigest()) == (file["size"], file["sha256"])
    assert {file["name"]: file["sha256"] for file in reader["files"]} == encoder.PINNED


@pytest.mark.parametrize("name", encoder.PINNED)
@pytest.mark.parametrize("damage", ["a bit", "cut", "gone"])
def test_a_damaged_reader_is_named_and_not_used(monkeypatch, tmp_path, name, damage):
    folder = tmp_path / "reader"
    shutil.copytree(encoder.FOLDER, folder)
    raw = bytearray((folder / name).read_bytes())
    raw[len(raw) // 2] ^= 1
    (folder / name).write_bytes(raw if damage == "a bit" else raw[:-1])
    if damage == "gone":
        (folder / name).unlink()
    monkeypatch.setattr(encoder, "FOLDER", folder)
    with pytest.raises(ModelMissingError, match=name) as told:
        encoder._loaded(folder)
    assert told.value.code == 4


def test_the_reader_is_read_and_checked_once_a_process(monkeypatch):
    told("put in six quarts")
    monkeypatch.setattr(encoder, "_bytes", lambda path: pytest.fail(f"{path} is read again"))
    told("put in seven quarts")


def test_likelihoods_add_up_to_one_for_every_candidate_and_every_part():
    found = told("torqued the filter to seventeen foot pounds and put in six quarts")
    for rows in (found.out, found.field, found.place, found.point, found.state, found.status):
        assert rows.sum(axis=-1) == pytest.approx(1, abs=1e-3)


def test_a_note_without_numbers_and_an_empty_one_are_read():
    assert told("Drain is shut.").out.shape[0] == 0
    assert told("").state.shape[0] == 0


def test_a_note_longer_than_a_window_is_read_to_its_end():
    talk = "We went to look at the weather and came back again. " * 60
    drafts = read_sentence(f"{talk} Put in seven quarts of oil.", load())
    assert [(d.name, d.value) for d in drafts] == [("oil_added", 7)]


def test_what_is_replaced_points_ahead_never_back():
    found = told("Tach twelve point five, no, twelve point six.")
    for n, row in enumerate(found.point):
        assert row[1 : n + 2] == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "name", "value", "earlier"),
    [
        ("Right main had thirty-one, she has thirty-six now.", "tire_pressure", 36, 31),
        ("Left tyre was down to twenty-two, pumped it to thirty psi.", "tire_pressure", 30, 22),
    ],
)
def test_as_found_then_as_left_keeps_the_later_and_shows_the_earlier(text, name, value, earlier):
    """No conflict: what holds at the end is the value (the field catalogue, 'settled since')."""
    (draft,) = [d for d in read_sentence(text, load()) if d.name == name]
    assert (draft.value, draft.doubts) == (value, ())
    assert earlier in [a.value for a in draft.alternatives]


def test_no_value_is_drafted_that_no_candidate_holds():
    """Whatever the trained reader thinks, a number comes from the words."""
    text = "Seventeen on the filter, six in, five and a half on the stick, all good."
    doc = to_doc(text)
    numbers = {r.value for c in candidates(doc, load()) for r in c.readings}
    for draft in read_sentence(text, load()):
        if load().fields[draft.name].kind == "number":
            assert draft.value in numbers
