"""The catalogue is data: its order, its checks, and a field that a mechanic adds."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from extract.read import read_sentence
from extract.values.catalogue import CatalogueError, load


def test_every_field_of_the_contract_is_there_in_its_order():
    names = list(load().fields)
    assert names[:3] == ["tach_time", "hour_meter_time", "service_date"]
    assert names.index("battery_voltage") == 35
    assert names[-9:-7] == ["defect", "remark"]
    assert len(names) == 53


def test_job_names_the_tasks_of_the_regulation():
    """14 CFR 43 Appendix A(c): 6 lubrication, 23 strainers and filter elements, 5 safety wire."""
    assert {6, 23} <= set(load().jobs["oil-and-filter"].app_a_items)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('[x]\nkind = "number"\nlable = "x"\n', "x.lable"),
        ('[x]\nkind = "length"\n', "x.kind"),
        ('[x]\nkind = "number"\nstep = 0.1\n', "x.step"),
        ('[x]\nkind = "number"\nrange = ["9", "1"]\n', "x.range"),
        ('[x]\nkind = "number"\nnames = "tach"\n', "x.names"),
        ('[tach_time]\nkind = "number"\n', "tach_time"),
        ("[x\n", "TOML"),
    ],
)
def test_a_wrong_key_is_named_with_its_file(tmp_path: Path, text: str, named: str):
    path = tmp_path / "own.toml"
    path.write_text(text)
    with pytest.raises(CatalogueError) as caught:
        load(path)
    assert named in str(caught.value)
    assert "own.toml" in str(caught.value)


def test_a_field_is_added_without_python(tmp_path: Path):
    path = tmp_path / "own.toml"
    path.write_text(
        '[brake_pad]\nkind = "number"\nlabel = "brake pad"\nunit = "in"\nunits = ["in", "thou"]\n'
        'step = "0.001"\nrange = ["0.05", "0.5"]\n'
        'names = ["brake pad", "brake pads", "pads"]\n'
    )
    drafts = read_sentence("brake pads measured a hundred and ten thou", load(path))
    assert [(d.name, d.value) for d in drafts] == [("brake_pad", Decimal("0.11"))]


@pytest.mark.parametrize(
    ("rule", "named"),
    [
        ('is = ["maybe"]\nword = "x"\ncaution = "leak"', "x.adverse"),
        ('is = ["no"]\nword = "x"\ncaution = "none"', "caution"),
        ('is = ["no"]\nbelow = "1"\nword = "x"\ncaution = "leak"', "one of"),
        ('word = "x"\ncaution = "leak"', "one of"),
        ('is = ["no"]\nof = "sump"\nword = "x"\ncaution = "leak"', "x.adverse.of"),
        ('is = ["no"]\nwhy = "{sump}"\nword = "x"\ncaution = "leak"', "x.adverse"),
        ('is = ["no"]\nwords = "x"\ncaution = "leak"', "x.adverse.words"),
    ],
)
def test_a_wrong_rule_for_bad_news_is_named_with_its_file(tmp_path: Path, rule: str, named: str):
    path = tmp_path / "own.toml"
    path.write_text(f'[x]\nkind = "truth"\n[[x.adverse]]\n{rule}\n')
    with pytest.raises(CatalogueError) as caught:
        load(path)
    assert named in str(caught.value)
    assert "own.toml" in str(caught.value)


def test_every_kind_of_job_says_what_to_mind_with_its_source():
    for kind in load().jobs.values():
        assert kind.heed, kind.name
        assert all(caution.text and caution.source for caution in kind.heed)
