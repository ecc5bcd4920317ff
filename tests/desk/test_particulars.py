"""What a paper says beside the work: 14 CFR 43.9(a)(1) names the data, 91.417(a)(2) the totals.

Totals are worked by hand beside each check. Whose list it is: 14 CFR 43 Appendix A(c) is the United
States'; for any other country nothing is cited.
"""

from __future__ import annotations

from datetime import date

import pytest

from capture.errors import InputError
from desk import profile as profiles
from desk.drafting import whole
from extract.values.known import Known

WHO = "Ines Invented"
MORE = """
[engine]
name = "four-cylinder (invented)"
serial = "L-0000"
total_time = 2950.0
at_tach_time = 2298.1
at_date = 2025-11-02
[paper]
country = "{country}"
logbook = "engine logbook 2"
data = "engine manual, chapter 12-10"
revision = "revision 7"
"""


@pytest.fixture
def told(home, draft, queued, cowlnote):
    """A job of that day and tach time, with what else is given; and a profile of some country."""

    def make(*drafts, country="US"):
        with (home / "aircraft.toml").open("a", encoding="utf-8") as file:
            file.write(MORE.format(country=country))
        given = [draft("service_date", date(2026, 3, 14)), draft("tach_time", "2345.6", "h")]
        ids = queued([*given, *drafts])
        assert cowlnote("confirm", *ids, "--by", WHO).code == 0
        return cowlnote("entry").words

    return make


def test_engine_total_logbook_and_data_stand_in_the_entry(told):
    """2950.0 h at 2298.1; now 2345.6: 47.5 h more, 2997.5 h."""
    entry = told()
    assert "Engine four-cylinder (invented), serial L-0000" in entry
    assert "Engine total time 2997.5 h" in entry
    assert "Logbook engine logbook 2" in entry
    assert "Data used engine manual, chapter 12-10, revision 7" in entry


def test_what_is_confirmed_of_the_job_comes_before_the_profile(told, draft):
    entry = told(draft("data_used", "Service letter 4, revision 2"))
    assert "Data used Service letter 4, revision 2" in entry


def test_a_total_is_counted_on_past_a_changed_tach(told, cowlnote):
    """The old tach ends at 2340.0, the new begins at 0.0; 2950.0 + (2340.0 - 2298.1) + 12.5."""
    told()
    change = ("--old", "2340.0", "--new", "0.0", "--on", "2026-03-20")
    assert cowlnote("meter", *change, "--by", WHO, "--because", "worn").code == 0
    typed = ("--on", "2026-05-02", "--by", WHO, "--although", "the new tach")
    assert cowlnote("add", "tach_time", "12.5", *typed).code == 0
    entry = cowlnote("entry", "3").words
    assert "Date completed 2026-05-02" in entry
    assert "Engine total time 3004.4 h" in entry


def test_without_data_the_paper_leaves_room_for_it(draft, queued, cowlnote):
    queued([draft("tach_time", "2345.6", "h")])
    assert "Data used ____________ (not confirmed, nor in the profile)" in cowlnote("entry").words


def test_oil_as_the_owner_typed_it(told, cowlnote):
    told()
    for name, value in (
        ("oil_brand", "Invented Oil Works"),
        ("oil_specification", "J-0000"),
        ("oil_lot", "L 12"),
    ):
        assert cowlnote("add", name, value, "--by", WHO).code == 0
    entry = cowlnote("entry").words
    assert "Oil brand Invented Oil Works. Oil specification J-0000. Oil lot L 12." in entry


def test_a_compression_is_reported_by_somebody(told, draft, cowlnote):
    entry = told(draft("cylinder_compression", "74", "psi", position=1))
    assert "Cylinder 1: compression 74/80. Compressions as reported by ____________" in entry
    assert "NOT LISTED: not on the preventive list of 14 CFR 43 Appendix A(c)" in entry
    assert "the rules that apply say: cylinder compression 1." in entry
    cowlnote("add", "reported_by", "Mo Mechanic, of an invented shop", "--by", WHO)
    assert "as reported by Mo Mechanic, of an invented shop." in cowlnote("entry").words


def test_an_oil_change_is_wholly_on_the_list(told, draft):
    entry = told(draft("oil_added", "7", "qt"), draft("filter_torque", "17", "ft-lb"))
    assert "NOT LISTED" not in entry


def test_free_words_are_matched_to_a_line_by_their_words_or_said_not_to_be(told, draft, cowlnote):
    """Line 17 is bulbs and lenses of position and landing lights; painting a fin is not in it."""
    entry = told(
        draft("remark", "replaced the landing light bulb"),
        draft("remark", "bent the fin straight", start=40.0, end=42.0),
    )
    assert "the rules that apply say: remark 2." in entry
    listed = cowlnote("checklist").words
    assert "(17) replacing bulbs" in listed
    assert "remark 2" in listed.partition("not on that list")[2]


def test_another_country_has_a_paper_with_the_same_elements_and_no_rule(told, draft, cowlnote):
    entry = told(draft("cylinder_compression", "74", "psi", position=1), country="ca")
    for element in ("Date completed", "Name", "Signature", "Licence or certificate number"):
        assert element in entry
    assert "CFR" not in entry
    listed = cowlnote("checklist").words
    assert "CFR" not in listed
    assert "holds no list of CA" in listed


def test_a_country_that_is_none_is_one_clear_line(home, cowlnote):
    with (home / "aircraft.toml").open("a", encoding="utf-8") as file:
        file.write('[paper]\ncountry = "Utopia"\n')
    ran = cowlnote("entry")
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert "paper.country" in ran.err


def test_a_part_number_is_completed_from_the_profile_with_a_doubt(draft):
    made = whole(draft("filter_part_number", "-227A"), Known(filter_part_number="ZZ-227A"))
    assert made.value == "ZZ-227A"
    assert "only -227A was said" in made.doubts[0]
    assert made.alternatives[0].value == "-227A"


@pytest.mark.parametrize(
    ("said", "expected"), [("-228A", "ZZ-227A"), ("227A", "ZZ-227A"), ("-227A", None)]
)
def test_no_other_part_number_is_completed(draft, said, expected):
    plain = draft("filter_part_number", said)
    assert whole(plain, Known(filter_part_number=expected)) == plain


def test_engine_and_paper_are_checked_like_the_rest():
    with pytest.raises(InputError, match=r"engine\.serail"):
        profiles.read_profile('[engine]\nserail = "x"\n', "aircraft.toml", None)  # type: ignore[arg-type]
