"""A field that the trained reader was never shown: read by its cues alone, always with a doubt.

The field is the one that docs/reading.md shows, and so are the sentences and what they give.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from extract.read import read_sentence
from extract.values.catalogue import Catalogue, load

DOC = (Path(__file__).parents[2] / "docs/reading.md").read_text("utf-8")
SECTION = DOC.split("## A field of your own")[1].split("\n## ")[0]
ROWS = re.findall(r'^\| "(.+?)" \| (.+?) \|$', SECTION, re.MULTILINE)


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    found = re.search(r"```toml\n(.+?)```", SECTION, re.DOTALL)
    assert found is not None
    path = tmp_path_factory.mktemp("fields") / "brakes.toml"
    path.write_text(found[1], "utf-8")
    return load(path)


def shown(said: str, own: Catalogue) -> list[str]:
    made = []
    for draft in read_sentence(said, own):
        field = own.fields[draft.name]
        assert draft.doubts, draft
        assert draft.trail == ("rules: alone",)
        place = f", {draft.position}" if draft.position else ""
        made.append(f"{field.label}{place}: {field.kind_object.show(draft.value, field.unit)}")
    return made


def test_the_doc_has_an_example_of_every_kind():
    assert len(ROWS) >= 5


@pytest.mark.parametrize(("said", "gives"), ROWS)
def test_what_the_doc_says_is_what_is_read(own: Catalogue, said: str, gives: str):
    assert shown(said, own) == ([] if gives.startswith("nothing") else [gives])


@pytest.mark.parametrize(
    "said",
    [
        "Are the pads at a hundred thou?",
        "Last year the pads measured a hundred and ten thou.",
        "New pads cost a hundred and ten.",
        "Torqued the wheel to a hundred and ten.",
        "If the brake lines were checked we can go.",
    ],
)
def test_what_is_no_reading_of_today_gives_none(own: Catalogue, said: str):
    assert not [d for d in read_sentence(said, own) if d.name.startswith("brake")]


def test_a_field_of_the_trained_reader_keeps_its_number(own: Catalogue):
    drafts = read_sentence(
        "Filter torqued to seventeen foot pounds, pads are two millimeters.", own
    )
    assert {d.name: bool(d.doubts) for d in drafts} == {"filter_torque": False, "brake_pad": True}


@pytest.mark.parametrize(
    ("said", "remark"),
    [
        ("I have not torqued the filter.", "said not done: have not torqued the filter"),
        ("Didn't change the oil filter yet.", "said not done: Didn't change the oil filter"),
        ("The plugs have not been torqued.", "said not done: plugs have not been torqued"),
    ],
)
def test_what_was_due_and_said_not_to_be_done_is_a_remark_and_no_value(said: str, remark: str):
    (draft,) = read_sentence(said, load())
    assert (draft.name, draft.value) == ("remark", remark)
    assert any("said not to be done" in doubt for doubt in draft.doubts)


@pytest.mark.parametrize(
    "said",
    [
        "Have you not torqued the filter?",
        "Last time I did not torque the filter.",
        "No additive this time.",
    ],
)
def test_what_says_nothing_of_today_is_no_remark(said: str):
    assert not read_sentence(said, load())


def test_what_was_done_after_all_is_its_value():
    said = "Forgot to torque the filter. Did it now, seventeen foot pounds."
    assert [(d.name, d.value) for d in read_sentence(said, load())] == [("filter_torque", 17)]
