"""Learning from the desk, end to end on invented memos: shown, asked, learned, read; or not."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from capture.observed import Hearing, Transcript, Word
from desk import lessons as learning
from desk.profile import Profile, read_profile
from record.lessons import Decided, Memo

WHO = "Ines Invented"
# A misreading that the project's own table of sounds does not know to be one.
# The trained reader may know it all the same: what a lesson adds is told by its doubt.
BY_LESSON = "a word was put right in the way that your profile says"
UNREAD = "okay the tacks was sitting over at two five six nine point two"


@pytest.fixture
def take(cowlnote, engines, sound, tmp_path):
    """Take in one invented memo that says `text`, in a month of its own: its own job."""
    made: list[Path] = []

    def run(text: str, at: Path | None = None) -> str:
        month = len(made) + 1
        path = tmp_path / "phone" / f"Recording 2026-{month:02d}-14 09.12.05.wav"
        made.append(sound(path, 200 + 10 * month))
        engines.ear.says[path.name] = text
        assert cowlnote("intake", path, at=at).code == 0
        return path.name

    return run


@pytest.fixture
def decide(cowlnote):
    """Confirm, amend or reject everything that waits and was said."""

    def run(how: str = "confirm", *told: str, at: Path | None = None) -> None:
        drafts = cowlnote("drafts", "--json", at=at).data
        ids = [d["id"] for d in drafts if d["name"] != "service_date"]  # that was offered
        assert ids
        if how == "confirm":
            assert cowlnote("confirm", *ids, "--by", WHO, at=at).code == 0
        else:
            for number in ids:
                ran = cowlnote(how, number, *told, "--by", WHO, "--because", "looked", at=at)
                assert ran.code == 0

    return run


@pytest.fixture
def twice(take, decide):
    """The same misheard word, confirmed in two memos."""
    take("tacks reads two three four five point six")
    decide()
    take("tacks reads two three five one point four")
    decide()


def values(cowlnote, at: Path | None = None) -> list[Any]:
    found = cowlnote("drafts", "--json", at=at).data
    return [d["value"] for d in found if d["state"] == "waiting" and d["name"] == "tach_time"]


def taught(cowlnote, at: Path | None = None) -> list[Any]:
    """Give the waiting drafts that rest on a taught word."""
    found = cowlnote("drafts", "--json", at=at).data
    return [d["value"] for d in found if d["state"] == "waiting" and BY_LESSON in d["doubts"]]


def words(cowlnote) -> dict[str, dict[str, Any]]:
    return {f"{w['heard']}={w['meant']}": w for w in cowlnote("lessons", "--json").data["words"]}


def test_a_word_confirmed_twice_is_offered_added_and_read_in_the_next_memo(
    cowlnote, take, twice, home
):
    take(UNREAD)
    assert not taught(cowlnote)  # whatever is made of it, it is not by a taught word
    shown = words(cowlnote)["tacks=tach"]
    assert (len(shown["confirmed"]), shown["offered"], shown["learned"]) == (2, True, False)
    assert [p["memo"] for p in shown["elsewhere"]] == ["Recording 2026-03-14 09.12.05.wav"]
    assert 'cowlnote lessons --add "tacks=tach"' in cowlnote("lessons").words

    assert cowlnote("lessons", "--add", "tacks=tach", "--yes").code == 0
    assert tomllib.loads((home / "aircraft.toml").read_text("utf-8"))["heard"] == {"tacks": "tach"}
    take(UNREAD)
    assert values(cowlnote)[-1] == 2569.2
    assert taught(cowlnote)
    after = words(cowlnote)["tacks=tach"]
    assert (after["learned"], after["offered"]) == (True, False)
    assert "tacks = tach in the profile" in cowlnote("lessons").words


def test_another_home_learns_nothing_from_it(cowlnote, take, twice, home, tmp_path):
    cowlnote("lessons", "--add", "tacks=tach", "--yes")
    other = tmp_path / "other"
    cowlnote("begin", "N0000X", at=other)
    take(UNREAD, at=other)
    assert not taught(cowlnote, at=other)


def test_what_is_typed_is_never_read_back(cowlnote, twice):
    cowlnote("lessons", "--add", "tacks=tach", "--yes")
    assert BY_LESSON not in cowlnote("try", UNREAD).words


def test_a_reading_by_a_taught_word_carries_a_doubt_and_what_was_heard(cowlnote, take, twice):
    cowlnote("lessons", "--add", "tacks=tach", "--yes")
    take(UNREAD)
    found = cowlnote("drafts", "--json").data
    (draft,) = (d for d in found if d["name"] != "service_date")
    assert "a word was put right in the way that your profile says" in draft["doubts"]
    assert "tacks" in draft["heard"]


def test_once_is_not_enough_to_offer_a_word(cowlnote, take, decide):
    take("tacks reads two three four five point six")
    decide()
    assert not words(cowlnote)["tacks=tach"]["offered"]
    assert "--add" not in cowlnote("lessons").out


def test_a_word_that_was_rejected_is_not_offered(cowlnote, take, decide, twice):
    take("tacks reads two five six nine point two")
    decide("reject")
    shown = words(cowlnote)["tacks=tach"]
    assert (len(shown["rejected"]), shown["offered"]) == (1, False)


def test_a_decision_that_was_taken_back_does_not_count(cowlnote, twice, home):
    from record import queue
    from record.store import Store

    store = Store.open(home)
    with store.session() as session:
        queue.undo(session, 1, WHO)
    store.close()
    assert len(words(cowlnote)["tacks=tach"]["confirmed"]) == 1


def test_a_value_put_right_is_shown_and_never_offered(cowlnote, take, decide):
    for _ in range(2):
        take("tach reads two three four five point six")
        decide("amend", "2346.6")
    found = cowlnote("lessons", "--json").data
    assert found["words"] == []
    assert {(a["value"], a["entered"], a["by"]) for a in found["amended"]} == {
        (2345.6, 2346.6, WHO)
    }
    assert "a value is never learned" in cowlnote("lessons").out


@pytest.mark.parametrize(
    "pair",
    [
        "2345.6=2346.6",
        "seven=eleven",
        "tacks=seven",
        "liner=niner",
        "ate=tach",
        "point=tach",
        "zz-227a=filter",
        "tacks=ZZ-227A",
        "alpha=tach",
        "march=tach",
        "tuesday=tach",
        "knot=not",
        "flecks=flakes",
        "pints=quarts",
        "oil pressure=oil temperature",
        "tacks=gascolator",
        "that=tach",
        "tacks",
        "=tach",
        "tacks=",
    ],
)
def test_a_value_or_nonsense_can_never_be_learned_even_with_a_yes(cowlnote, twice, home, pair):
    before = (home / "aircraft.toml").read_bytes()
    ran = cowlnote("lessons", "--add", pair, "--yes")
    assert (ran.code, ran.out, ran.err.count("\n")) == (3, "", 1)
    assert (home / "aircraft.toml").read_bytes() == before


def test_without_a_yes_and_without_a_terminal_nothing_is_written(cowlnote, twice, home):
    before = (home / "aircraft.toml").read_bytes()
    ran = cowlnote("lessons", "--add", "tacks=tach")
    assert (ran.code, ran.out, ran.err.count("\n")) == (7, "", 1)
    assert "without a yes" in ran.err
    assert (home / "aircraft.toml").read_bytes() == before


@pytest.mark.parametrize(("answer", "learned"), [("y\n", True), ("n\n", False), ("\n", False)])
def test_at_a_terminal_it_asks_and_shows_the_evidence(
    cowlnote, twice, home, monkeypatch, answer, learned
):
    from desk.commands import lessons as command

    monkeypatch.setattr(command, "at_terminal", lambda: True)
    ran = cowlnote("lessons", "--add", "tacks=tach", input=answer)
    assert ran.code == 0
    assert "confirmed 2x" in ran.err
    text = (home / "aircraft.toml").read_text("utf-8")
    assert ("tacks" in text) is learned
    assert ("nothing was learned" in ran.out) is not learned


def test_every_line_and_comment_of_the_profile_survives(cowlnote, take, twice, home):
    fresh = home.parent / "fresh"
    cowlnote("begin", "N0417Q", at=fresh)
    written = (fresh / "aircraft.toml").read_text("utf-8").replace("# sump", "sump")
    (home / "aircraft.toml").write_text(written, "utf-8")
    assert cowlnote("lessons", "--add", "tacks=tach", "--yes").code == 0
    assert cowlnote("lessons", "--add", "courts = quarts", "--yes").code == 0
    now = (home / "aircraft.toml").read_text("utf-8")
    added = ['tacks = "tach"', 'courts = "quarts"']
    assert [line for line in now.splitlines() if line and line not in added] == [
        line for line in written.splitlines() if line
    ]
    assert read_profile(now, home, Profile().zone).heard == (
        ("tacks", "tach"),
        ("courts", "quarts"),
    )
    assert [p.name for p in home.iterdir() if p.name.startswith(".new")] == []


def test_a_write_that_fails_leaves_the_profile_as_it_was(cowlnote, twice, home, monkeypatch):
    before = (home / "aircraft.toml").read_bytes()

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    ran = cowlnote("lessons", "--add", "tacks=tach", "--yes")
    assert (ran.code, ran.err.count("\n")) == (3, 1)
    assert (home / "aircraft.toml").read_bytes() == before
    assert [p.name for p in home.iterdir() if p.name.startswith(".new")] == []


def test_the_same_pair_twice_is_one_clear_line(cowlnote, twice):
    cowlnote("lessons", "--add", "tacks=tach", "--yes")
    ran = cowlnote("lessons", "--add", "Tacks=tach", "--yes")
    assert (ran.code, "already" in ran.err) == (3, True)


def test_without_a_profile_it_says_how_to_make_one(cowlnote, twice, home):
    (home / "aircraft.toml").unlink()
    ran = cowlnote("lessons", "--add", "tacks=tach", "--yes")
    assert (ran.code, "cowlnote begin" in ran.err) == (3, True)
    assert not (home / "aircraft.toml").exists()


def test_before_anything_is_decided_there_is_one_line(cowlnote, take):
    take("tacks reads two three four five point six")
    assert cowlnote("lessons").out == "no word was read back in what was decided\n"


def hearing(text: str, model: str) -> Hearing:
    spans = enumerate(text.split())
    return Hearing(model, "", tuple(Word(w, n * 0.4, n * 0.4 + 0.36) for n, w in spans))


def memo(name: str, *texts: str, state: str = "confirmed") -> Memo:
    hearings = tuple(hearing(text, f"m{n}") for n, text in enumerate(texts))
    told = Decided(1, state, "tach_time", None, 1, "h", 1, WHO, texts[0], 0.0, 4.0)
    return Memo(name, Transcript(name, 9.0, hearings), (told,))


def test_one_hearing_right_and_another_wrong_is_evidence_too():
    """A word that no table knows, beside the hearing that had it right."""
    texts = "the gascolator is clean", "the gasculator is clean"
    profile = Profile(words=("gascolator",))
    found = learning.lessons([memo("a.wav", *texts), memo("b.wav", *texts)], profile).pairs
    assert [(one.heard, one.meant, one.offered) for one in found] == [
        ("gasculator", "gascolator", True)
    ]


def test_numbers_that_the_hearings_differ_in_are_no_lesson():
    texts = "tach is fifteen point six", "tach is fifty point six"
    assert learning.lessons([memo("a.wav", *texts)], Profile()).pairs == ()


def test_several_hearings_of_one_word_count_once():
    text = "tacks reads two three four five point six"
    (one,) = learning.lessons([memo("a.wav", text, text, text)], Profile()).pairs
    assert len(one.confirmed) == 1


def test_stdin_of_a_test_is_no_terminal():
    """So that the refusal above is the one that a script meets."""
    assert not sys.stdin.isatty()
