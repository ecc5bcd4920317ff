"""What is let in from outside is what the program itself would write, row by row."""

from __future__ import annotations

import copy
import hashlib

import pytest

from capture.errors import InputError
from record import dump, jobs, media, queue, strict
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken

SHA = hashlib.sha256(b"not really a sound").hexdigest()


@pytest.fixture
def document(store, catalogue):
    with store.session() as session:
        row = media.note(session, type(kept())(SHA, "memo.wav", 18, "memo", BEGAN), began())
        job = jobs.job_for(session, BEGAN)
        media.join(session, row.id, job)
        media.keep_transcript(session, row.id, spoken("torqued to 17 and that is it"))
        (first,) = queue.put(session, job, [draft()])
        queue.confirm(session, [first], WHO)
        queue.add(session, job, "oil_level", "7.250", WHO, catalogue=catalogue)
        return dump.dump(session)


def test_what_the_program_wrote_is_let_in(document):
    assert strict.fault(document, dump.TABLES) is None
    dump.need_readable(document)


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("job", "opened_at", "yesterday"),
        ("job", "opened_at", "2026-03-14T09:12:05"),  # without an offset it compares with nothing
        ("job", "opened_at", "0001-01-01T00:00:00+14:00"),  # no such moment in UTC
        ("job", "id", 2**63),
        ("job", "id", 0),
        ("job", "kind", "free\0"),
        ("media", "name", "../memo.wav"),
        ("media", "kind", "film"),
        ("media", "began_utc", "2026-03-14T08:12:05.000+00:00Z"),
        ("media", "began_uncertainty_s", float("inf")),
        ("media", "job_id", 7),
        ("transcript", "body", "{}"),
        ("transcript", "body", "[" * 100_000),
        ("transcript", "kind", "song"),
        ("segment", "start_s", float("nan")),
        ("segment", "text", "half a \ud800"),
        ("draft", "value", "seventeen"),
        ("draft", "value", "NaN"),
        ("draft", "value", "1e999999"),
        ("draft", "kind", "text"),
        ("draft", "position", "[1]"),
        ("draft", "position", "one"),
        ("draft", "alternatives", '[["number","x",0.5,""]]'),
        ("draft", "also", '[["memo.wav"]]'),
        ("draft", "quad", "[[0,0],[1,1]]"),
        ("draft", "doubts", '"a doubt"'),
        ("draft", "state", "maybe"),
        ("decision", "action", "sign"),
        ("decision", "by", "  "),
        ("decision", "shown", "[]"),
        ("entry", "value", "seven"),
        ("entry", "decision_id", 99),
        ("entry", "said_utc", None),
        ("entry", "at", "soon"),
    ],
)
def test_a_row_that_a_later_command_could_not_read_is_named(document, table, column, value):
    spoilt = copy.deepcopy(document)
    spoilt["tables"][table][0][column] = value
    with pytest.raises(InputError, match=f"holds what it cannot: {table} ") as told:
        dump.need_readable(spoilt)
    assert "\n" not in str(told.value)
    assert len(str(told.value)) < 400


def test_a_number_that_is_there_twice_is_named(document):
    document["tables"]["job"] *= 2
    with pytest.raises(InputError, match="is there twice"):
        dump.need_readable(document)


@pytest.mark.parametrize("revision", ["9999", "", "0", "00071", "abcd", "0000"])
def test_a_newer_revision_is_not_let_in(document, revision):
    with pytest.raises(InputError, match="of revision"):
        dump.need_readable({**document, "revision": revision})


@pytest.mark.parametrize("text", ['{"a": NaN}', "[" * 100_000, "{", "\x00"])
def test_json_that_no_program_of_ours_writes_is_one_line(text):
    with pytest.raises(InputError, match="is no JSON") as told:
        strict.loads(text)
    assert "\n" not in str(told.value)
