"""Files as they really arrive: two jobs at once, other aircraft, wrong clocks, drowned memos."""

from __future__ import annotations

import os
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from capture.observed import Hearing, Transcript
from desk.drafting import OFFERED, kind_of
from record import jobs, media
from record.store import Store
from record.tables import MediaRow
from tests.conftest import transcript

CHICAGO = ZoneInfo("America/Chicago")
WHO = "Ines Invented"


@pytest.fixture
def arrive(cowlnote, engines, sound, tmp_path):
    """Take in memos of a name and what is said in each, as one batch; give how it ended."""
    pitch = iter(range(200, 2000, 17))

    def go(says: dict[str, str], *options: object, batch: str = "batch"):
        engines.ear.says |= says
        paths = [sound(tmp_path / batch / name, next(pitch)) for name in says]
        return cowlnote("intake", *paths, "--json", *options)

    return go


def waiting(cowlnote, job: int) -> dict[str, object]:
    found = cowlnote("drafts", "--job", job, "--json").data
    return {d["name"]: d["value"] for d in found if d["name"] != "service_date"}


def began(home) -> dict[str, datetime]:
    store = Store.open(home, read_only=True)
    with store.session(write=False) as session:
        found = {m.name: m.began.at for m in media.media(session)}
    store.close()
    return found


# two jobs together


def test_two_jobs_dropped_together_are_both_counted_and_every_file_is_named(cowlnote, arrive):
    ran = arrive(
        {
            "20260314_091205.wav": "tach reads two three four five point six",
            "20260314_092000.wav": "torqued the filter to seventeen foot pounds",
            "20260321_080000.wav": "nose tire twenty four psi",
        }
    )
    one, two = ran.data["by_job"]
    assert (one["files"], two["files"]) == (
        ["20260314_091205.wav", "20260314_092000.wav"],
        ["20260321_080000.wav"],
    )
    assert (one["kind"], two["kind"]) == ("oil-and-filter", "tire")
    assert one["drafts"] + two["drafts"] == ran.data["drafts"] == 5
    said = cowlnote("jobs").words
    assert "2026-03-14" in said
    assert "2026-03-21" in said


def test_the_terminal_names_each_job_and_its_files(cowlnote, arrive, tmp_path):
    arrive(
        {
            "20260314_091205.wav": "tach reads two three four five point six",
            "20260321_080000.wav": "nose tire twenty four psi",
        }
    )
    ran = cowlnote("intake", tmp_path / "batch")
    assert "job 1 (N0417Q, 2026-03-14, other work or note): 2 drafts" in ran.out
    assert "job 2 (N0417Q, 2026-03-21, tire service): 2 drafts" in ran.out
    assert "from 20260314_091205.wav" in ran.out
    assert "from 20260321_080000.wav" in ran.out


# nothing understood


def spoken_for(seconds: float, name: str, *texts: str) -> Transcript:
    made = (
        transcript(*texts, media=name) if texts else Transcript(name, 30.0, (Hearing("x", "", ()),))
    )
    return Transcript(name, 30.0, made.hearings, ((0.0, seconds),) if seconds else ())


@pytest.mark.parametrize(
    ("seconds", "texts", "why"),
    [
        (12.0, (), "somebody speaks for 12 s and no word was understood"),
        (0.0, (), "no voice was made out in it: silence, noise, or a voice drowned by noise"),
        (20.0, ("the the",), "only 2 words were understood of 20 s of speech"),
        (3.0, ("what a lovely morning it is",), "words were heard, and nothing in them"),
    ],
)
def test_a_memo_in_which_nothing_was_understood_is_said_by_name(
    cowlnote, arrive, engines, monkeypatch, seconds, texts, why
):
    name = "20260314_091205.wav"
    monkeypatch.setattr(
        engines.ear,
        "hear",
        lambda samples, media, progress=None: spoken_for(seconds, media, *texts),
    )
    ran = arrive({name: ""})
    assert ran.code == 0
    assert f"nothing understood in {name}: {why}" in ran.err
    assert "listen to it" in ran.err
    (lost,) = ran.data["by_job"][0]["nothing_understood"]
    assert lost["file"] == name
    assert lost["why"].startswith(why)


def test_a_memo_that_says_a_value_or_the_time_is_not_complained_of(arrive):
    ran = arrive(
        {
            "20260314_091205.wav": "tach reads two three four five point six",
            "20260314_091305.wav": "time now is nine thirteen",
        }
    )
    assert "nothing understood" not in ran.err


def test_a_meters_photo_on_which_nothing_was_read_is_said_by_name(cowlnote, folder, engines):
    engines.eye.shows = {"IMG_0001.jpg": ("tach", "drum", "")}
    ran = cowlnote("intake", folder)
    assert "nothing understood in IMG_0001.jpg: it looks like a tach, and no value was" in ran.err


def test_a_picture_of_a_part_is_not_complained_of(cowlnote, folder, engines):
    engines.eye.shows = {}
    assert "nothing understood in IMG_0001.jpg" not in cowlnote("intake", folder).err


# weak times


def test_a_photo_without_a_usable_time_does_not_widen_its_job(
    cowlnote, folder, engines, photo, arrive
):
    plain = photo(folder / "scan.jpg")
    later = datetime(2026, 5, 20, 12, tzinfo=CHICAGO).timestamp()
    os.utime(plain, (later, later))
    assert cowlnote("intake", folder, "--json").data["jobs"] == [1]
    ran = arrive({"20260420_090000.wav": "tach reads two three five one point zero"}, batch="april")
    assert ran.data["jobs"] == [2]


def test_what_has_no_usable_time_goes_with_the_nearest_of_several_jobs_and_says_so(
    arrive, cowlnote, photo, tmp_path
):
    plain = photo(tmp_path / "batch" / "scan.jpg")
    near = datetime(2026, 3, 20, 12, tzinfo=CHICAGO).timestamp()
    os.utime(plain, (near, near))
    ran = arrive({"20260314_091205.wav": "oil pressure seventy psi", "20260321_080000.wav": "ok"})
    ran = cowlnote("intake", plain, "--json")  # alone: no job lies within a day of it
    assert ran.data["jobs"] == [2]
    assert "scan.jpg: " in ran.err


# the day nobody said


def test_the_day_of_the_memos_is_offered_as_a_doubtful_draft_with_its_source(cowlnote, arrive):
    arrive({"20260314_091205.wav": "tach reads two three four five point six"})
    (date,) = [d for d in cowlnote("drafts", "--json").data if d["name"] == "service_date"]
    assert date["value"] == "2026-03-14"
    assert OFFERED in date["doubts"]
    assert date["heard"] == "the day of 20260314_091205.wav, by the time in its name"
    assert date["confidence"] <= 0.5


def test_a_day_that_is_said_takes_the_place_of_the_offered_one(cowlnote, arrive):
    arrive({"20260314_091205.wav": "tach reads two three four five point six"})
    arrive({"20260314_101205.wav": "today is the thirteenth of march twenty twenty six"}, batch="b")
    dates = [d for d in cowlnote("drafts", "--json").data if d["name"] == "service_date"]
    assert [(d["value"], OFFERED in d["doubts"]) for d in dates] == [("2026-03-13", False)]


def test_no_day_is_offered_from_a_time_that_does_not_tell_it(cowlnote, arrive):
    arrive({"memo.wav": "tach reads two three four five point six"})
    assert [d["name"] for d in cowlnote("drafts", "--json").data] == ["tach_time"]


def test_a_day_that_was_rejected_is_not_offered_again(cowlnote, arrive, tmp_path):
    arrive({"20260314_091205.wav": "tach reads two three four five point six"})
    (date,) = [d["id"] for d in cowlnote("drafts", "--json").data if d["name"] == "service_date"]
    cowlnote("reject", date, "--by", WHO, "--because", "not that day")
    cowlnote("intake", tmp_path / "batch")
    states = [d["state"] for d in cowlnote("drafts", "--json").data if d["id"] != date]
    assert states == ["waiting"]


# clocks


def test_a_recorder_an_hour_off_is_put_right_for_all_its_memos(cowlnote, arrive, home):
    ran = arrive(
        {
            "rec_20260314_081205.wav": "tach reads two three four five point six",
            "rec_20260314_082000.wav": "time now is nine twenty",
            "rec_20260314_083000.wav": "oil pressure seventy psi",
        }
    )
    assert "slow by the time said in rec_20260314_082000.wav" in ran.err
    assert {at.hour for at in began(home).values()} == {9}


def test_what_comes_in_one_by_one_from_the_same_recorder_is_put_right_too(cowlnote, arrive, home):
    arrive({"rec_20260314_081205.wav": "tach reads two three four five point six"}, batch="a")
    arrive({"rec_20260314_082000.wav": "time now is nine twenty"}, batch="b")
    arrive({"rec_20260314_083000.wav": "oil pressure seventy psi"}, batch="c")
    assert {at.hour for at in began(home).values()} == {9}
    told = cowlnote("drafts", "--json").data
    assert {d["said_at"][11:13] for d in told if d["name"] != "service_date"} == {"09"}


def test_times_that_do_not_agree_move_no_clock_and_are_asked_about(arrive, home):
    ran = arrive(
        {
            "rec_20260314_081205.wav": "time now is eight twelve",
            "rec_20260314_082000.wav": "time now is nine twenty",
        }
    )
    assert "do not agree" in ran.err
    assert {at.hour for at in began(home).values()} == {8}


def test_memos_of_other_names_are_asked_about(arrive, home):
    ran = arrive(
        {
            "rec_20260314_082000.wav": "time now is nine twenty",
            "Voice 2026-03-14 08-30-00.wav": "oil pressure seventy psi",
        }
    )
    assert "of the same recorder?" in ran.err
    assert "Voice 2026-03-14 08-30-00.wav" in ran.err
    assert "--shift +1h00m" in ran.err
    assert began(home)["Voice 2026-03-14 08-30-00.wav"].hour == 8


def test_memos_an_hour_beside_the_photos_are_asked_about(arrive, cowlnote, photo, tmp_path):
    for minute in (20, 40):
        photo(tmp_path / "batch" / f"IMG_{minute}.jpg", f"2026:03:14 10:{minute}:00")
    says = {"20260314_091205.wav": "oil pressure seventy psi", "20260314_094500.wav": "six quarts"}
    arrive(says)
    ran = cowlnote("intake", tmp_path / "batch")
    assert "an hour before the photos" in ran.err
    assert "cowlnote clock '20260314_091205.wav' '20260314_094500.wav' --shift +1h" in ran.err


def test_photos_taken_while_people_talk_ask_nothing(arrive, cowlnote, photo, tmp_path):
    for minute in (20, 40):
        photo(tmp_path / "batch" / f"IMG_{minute}.jpg", f"2026:03:14 09:{minute}:00")
    arrive({"20260314_091205.wav": "oil pressure seventy psi", "20260314_094500.wav": "six quarts"})
    assert "an hour" not in cowlnote("intake", tmp_path / "batch").err


# kinds


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ({"tach_time", "cylinder_compression"}, "compression"),
        ({"oil_added", "filter_torque", "oil_drained"}, "oil-and-filter"),
        ({"oil_added", "oil_drained", "screen_cleaned"}, "oil-only"),
        ({"plug_gap", "tach_time"}, "spark-plugs"),
        ({"battery_voltage"}, "battery"),
        ({"tire_pressure"}, "tire"),
    ],
)
def test_the_kind_is_offered_from_fields_that_only_such_work_has(catalogue, said, kind):
    told = kind_of(said, catalogue)
    assert told[0] == kind
    assert told[1].endswith(" said")


@pytest.mark.parametrize("said", [set(), {"tach_time"}, {"oil_added", "oil_level"}])
def test_no_kind_is_offered_where_nothing_tells(catalogue, said):
    assert kind_of(said, catalogue) is None


def test_a_compression_memo_makes_no_oil_service_with_thirteen_missing_fields(cowlnote, arrive):
    arrive({"20260314_091205.wav": "number three seventy four over eighty"})
    assert "compression test" in cowlnote("jobs").words
    assert cowlnote("jobs", "--json").data[0]["kind_offered"] == "cylinder compression was said"


def test_a_kind_that_is_named_stays(cowlnote, arrive):
    arrive({"20260314_091205.wav": "number three seventy four over eighty"}, "--kind", "free")
    assert cowlnote("jobs", "--json").data[0]["kind"] == "free"


# other aircraft

OTHER = "november zero six five five x-ray oil change"


def test_another_aircrafts_registration_is_said_aloud_and_its_values_wait_there(cowlnote, arrive):
    ran = arrive(
        {
            "20260314_091205.wav": "tach reads two three four five point six",
            "20260314_101205.wav": f"{OTHER}. tach reads nine one two point three",
            "20260314_102205.wav": "oil pressure seventy psi",
            "20260314_111205.wav": "november zero four one seven quebec. put in six quarts",
        }
    )
    assert "says N0655X, not N0417Q; its values wait under N0655X" in ran.err
    assert "20260314_102205.wav: names no aircraft; put with N0655X" in ran.err
    assert [(j["job"], j["aircraft"]) for j in ran.data["by_job"]] == [(1, "N0417Q"), (2, "N0655X")]
    assert waiting(cowlnote, 1) == {"tach_time": 2345.6, "oil_added": 6}
    assert waiting(cowlnote, 2) == {"tach_time": 912.3, "oil_pressure": 70}


def test_the_limits_of_one_aircraft_are_not_held_against_another(cowlnote, arrive, home):
    (home / "aircraft").mkdir()
    (home / "aircraft" / "other.toml").write_text(
        'registration = "N0655X"\nfilter_torque = [20, 22]\n', "utf-8"
    )
    arrive({"20260314_091205.wav": f"{OTHER}. torqued the filter to seventeen foot pounds"})
    (torque,) = [d for d in cowlnote("drafts", "--json").data if d["name"] == "filter_torque"]
    assert any("20" in doubt for doubt in torque["doubts"])


def test_a_photo_of_another_aircraft_goes_there(cowlnote, folder, engines):
    engines.eye.shows["IMG_0001.jpg"] = ("label", "text", "N0655X")
    ran = cowlnote("intake", folder, "--json")
    assert "IMG_0001.jpg: shows N0655X, not N0417Q" in ran.err
    store = Store.open(folder.parent / "home", read_only=True)
    with store.session(write=False) as session:
        of = {m.name: jobs.get(session, m.job).aircraft for m in media.media(session)}
    store.close()
    assert of["IMG_0001.jpg"] == "N0655X"
    assert of["Recording 2026-03-14 09.12.05.wav"] == "N0417Q"


def test_a_memo_that_names_both_stays_and_says_so(cowlnote, arrive):
    both = "november zero four one seven quebec not november zero six five five x-ray"
    ran = arrive({"20260314_091205.wav": f"{both}. put in six quarts"})
    assert "says N0655X as well as N0417Q" in ran.err
    assert [j["aircraft"] for j in ran.data["by_job"]] == ["N0417Q"]
    (oil,) = [d for d in cowlnote("drafts", "--json").data if d["name"] == "oil_added"]
    assert any("says N0655X, and this job is of N0417Q" in doubt for doubt in oil["doubts"])


def test_a_job_that_is_named_is_kept_to_and_the_other_aircraft_doubted(cowlnote, arrive):
    arrive({"20260314_091205.wav": "tach reads two three four five point six"})
    ran = arrive(
        {"20260314_092205.wav": f"{OTHER}. oil pressure seventy psi"}, "--job", 1, batch="b"
    )
    assert ran.data["jobs"] == [1]
    assert "it says N0655X, and this job is of N0417Q" in ran.err
    (oil,) = [d for d in cowlnote("drafts", "--json").data if d["name"] == "oil_pressure"]
    assert any("N0655X" in doubt for doubt in oil["doubts"])


def test_what_a_killed_run_heard_and_did_not_place_is_placed_by_the_next(cowlnote, arrive, home):
    arrive({"20260314_091205.wav": "tach reads two three four five point six"})
    store = Store.open(home)
    with store.session() as session:  # the row as a run leaves it that is killed before it places
        session.get(MediaRow, 1).job_id = None
    store.close()
    ran = arrive({"20260314_092205.wav": "oil pressure seventy psi"}, batch="b")
    assert set(waiting(cowlnote, 1)) == {"tach_time", "oil_pressure"}
    assert ran.data["taken"] == 2
