from __future__ import annotations

import sqlite3
from decimal import Decimal

import pytest

from extract.values.draft import KEYS, Alternative

WHO = "Ines Invented"


@pytest.fixture
def two(draft, queued):
    """Two drafts: a torque without doubts, a tach time with one and an alternative."""
    other = Alternative(Decimal("2346.2"), 0.3, "the other hearing")
    return queued(
        [
            draft("filter_torque", "17", "ft-lb", heard="torqued the filter to seventeen"),
            draft(
                "tach_time",
                "345.6",
                "h",
                start=12.4,
                end=15.1,
                doubts=("lower than the last known 2298.1 h",),
                alternatives=(other,),
            ),
        ]
    )


def state(cowlnote, number: int) -> str:
    return next(d["state"] for d in cowlnote("drafts", "--all", "--json").data if d["id"] == number)


def test_drafts_as_json_have_the_catalogues_keys_and_id_job_state(cowlnote, two):
    found = cowlnote("drafts", "--json").data
    assert [set(d) for d in found] == [{*KEYS, "id", "job", "state", "adverse"}] * 2
    assert [d["name"] for d in found] == ["tach_time", "filter_torque"]  # the doubtful one first


def test_drafts_for_people_show_doubt_alternative_words_and_second(cowlnote, two):
    out = cowlnote("drafts").words
    for shown in (
        "lower than the last known",
        "or 2346.2 h",
        "memo.wav 0:12",
        "2 waiting, 1 of them",
    ):
        assert shown in out


def test_drafts_of_a_job_that_is_not_there_are_refused(cowlnote, two):
    ran = cowlnote("drafts", "--job", 9)
    assert (ran.code, ran.err) == (7, "cowlnote: there is no job 9; see `cowlnote jobs`\n")


def test_before_anything_is_taken_in_there_is_one_line_and_a_code(cowlnote, home):
    ran = cowlnote("drafts")
    assert ran.code == 5
    assert "there is no record here yet" in ran.err
    assert sorted(p.name for p in home.iterdir()) == ["aircraft.toml"]


def test_confirming_takes_several_and_names_who(cowlnote, two):
    ran = cowlnote("confirm", *two, "--by", WHO)
    assert ran.code == 0
    assert "filter torque: 17 ft-lb, entered by Ines Invented" in ran.out
    assert {state(cowlnote, i) for i in two} == {"confirmed"}


def test_confirming_one_that_is_not_there_confirms_none(cowlnote, two):
    ran = cowlnote("confirm", two[0], 99, "--by", WHO)
    assert ran.code == 7
    assert state(cowlnote, two[0]) == "waiting"


def test_no_decision_without_a_name(cowlnote, two):
    assert cowlnote("confirm", two[0]).code == 2
    ran = cowlnote("confirm", two[0], "--by", "  ")
    assert (ran.code, state(cowlnote, two[0])) == (7, "waiting")


def test_amending_enters_what_was_typed_and_says_why(cowlnote, two):
    ran = cowlnote("amend", two[1], "2345.6", "--by", WHO, "--because", "listened again")
    assert ran.code == 0
    assert "2345.6 h" in ran.out
    record = cowlnote("entry").words
    assert "2345.6 h" in record
    assert "amended by Ines Invented" in record
    assert "because listened again" in record
    assert state(cowlnote, two[1]) == "amended"


def test_a_typed_value_that_cannot_be_is_refused_in_one_line(cowlnote, two):
    ran = cowlnote("amend", two[1], "lots", "--by", WHO, "--because", "x")
    assert ran.code == 3
    assert ran.err.count("\n") == 1
    assert "lots" in ran.err
    assert state(cowlnote, two[1]) == "waiting"


def test_rejecting_keeps_the_draft_visible(cowlnote, two):
    assert cowlnote("reject", two[1], "--by", WHO, "--because", "not said").code == 0
    assert state(cowlnote, two[1]) == "rejected"
    assert "345.6 h" not in cowlnote("entry").out


def test_a_decision_is_not_made_twice(cowlnote, two):
    cowlnote("confirm", two[0], "--by", WHO)
    ran = cowlnote("reject", two[0], "--by", WHO, "--because", "x")
    assert ran.code == 7
    assert "already confirmed by Ines Invented" in ran.err


def test_adding_by_hand_is_marked_as_typed(cowlnote, two):
    ran = cowlnote("add", "oil_added", "7.25", "--by", WHO)
    assert ran.code == 0
    assert "typed by Ines Invented" in cowlnote("entry").out


def test_a_closed_job_takes_no_more(cowlnote, two):
    cowlnote("confirm", *two, "--by", WHO)
    assert cowlnote("close", 1, "--by", WHO, "--because", "a trial").code == 0
    assert cowlnote("add", "oil_added", "7", "--by", WHO).code == 7
    job = cowlnote("jobs", "--json").data[0]
    assert job["closed_by"] == WHO


def test_jobs_as_json_say_what_waits(cowlnote, two):
    found = cowlnote("jobs", "--json").data
    assert [(j["id"], j["aircraft"], j["waiting"], j["closed_by"]) for j in found] == [
        (1, "N0417Q", 2, None)
    ]


def test_review_shows_the_doubtful_first_and_does_what_the_keys_say(cowlnote, two):
    ran = cowlnote("review", "--by", WHO, input="1\nc\n")
    assert ran.out.index("tach time") < ran.out.index("filter torque")
    assert "2 decided by Ines Invented, 0 still waiting" in ran.out
    assert "c confirm" in ran.err
    assert {state(cowlnote, i) for i in two} == {"confirmed", "amended"}
    assert "2346.2 h" in cowlnote("entry").out


def test_review_asks_again_after_a_slip_and_keeps_what_was_decided_when_it_ends(cowlnote, two):
    ran = cowlnote("review", input=f"\n{WHO}\nx\n7\na\nlots\nbecause\na\n2345.6\nlistened\n")
    assert ran.code == 0
    assert "“lots” is not a number" in ran.err
    assert "1 decided by Ines Invented, 1 still waiting" in ran.out


def test_review_names_the_file_and_plays_the_words(
    cowlnote, home, sound, queued, draft, monkeypatch
):
    from capture.observed import Instant
    from capture.vault import Vault
    from desk import player
    from record import media
    from record.store import Store

    kept = Vault(home / "vault").keep(sound(home.parent / "memo.wav"))
    queued([draft("filter_torque", "17", "ft-lb", start=3.25, end=5.5)])
    store = Store.open(home)
    with store.session() as session:
        noted = media.note(session, kept, Instant(kept.modified, "file"))
        media.join(session, noted.id, 1)
    store.close()
    played = []
    monkeypatch.setattr(player, "play", lambda *told: played.append(told))
    ran = cowlnote("review", *("--by", WHO), input="p\ns\n")
    assert "the sound: memo.wav, second 3.2 to 5.5" in ran.out
    assert kept.sha256 not in ran.out
    assert played == [(Vault(home / "vault").path(kept.sha256), 3.25, 5.5)]


def test_a_stretch_is_played_by_a_program_of_the_machine(tmp_path, sound, monkeypatch):
    """The clip that the program is given is read by Python's own `wave`."""
    import wave

    from desk import player

    heard = tmp_path / "heard.wav"
    program = tmp_path / "aplay"
    program.write_text(f'#!/bin/sh\ncp "$2" {heard}\n', "utf-8")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setattr(player, "PLAYERS", (("aplay", "-q"),))
    with wave.open(str(sound(tmp_path / "memo.wav"))) as whole:
        seconds = whole.getnframes() / whole.getframerate()
    player.play(tmp_path / "memo.wav", seconds * 0.25, seconds * 0.5)
    with wave.open(str(heard)) as part:
        length = part.getnframes() / part.getframerate()
    least = seconds * 0.25
    assert least < length <= least + 2 * player.AROUND_S + 0.1


def test_review_can_be_left_and_taken_up_again(cowlnote, two):
    assert "0 decided" in cowlnote("review", "--by", WHO, input="q\n").out
    assert "1 decided" in cowlnote("review", "--by", WHO, input="s\nr\nnot said\n").out
    assert "1 of 1" in cowlnote("review", "--by", WHO, input="q\n").out


def test_check_finds_nothing_wrong_and_then_the_changed_entry(cowlnote, two, home):
    cowlnote("confirm", *two, "--by", WHO)
    assert cowlnote("check").code == 0
    with sqlite3.connect(home / "record.db") as database:
        for trigger in database.execute(
            "select name from sqlite_master where type='trigger'"
        ).fetchall():
            database.execute(f"drop trigger {trigger[0]}")
        database.execute("update entry set value = '18' where name = 'filter_torque'")
    database.close()
    ran = cowlnote("check")
    assert ran.code == 6
    assert "is not what was written" in ran.err


def test_check_finds_a_changed_byte_in_the_vault(cowlnote, two, home, sound):
    from capture.vault import Vault

    vault = Vault(home / "vault")
    kept = vault.path(vault.keep(sound(home.parent / "memo.wav")).sha256)
    kept.chmod(0o644)
    data = bytearray(kept.read_bytes())
    data[100] ^= 1
    kept.write_bytes(data)
    ran = cowlnote("check")
    assert ran.code == 6
    assert "bytes have changed" in ran.err
