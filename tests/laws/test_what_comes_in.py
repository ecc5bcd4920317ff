"""Whatever a profile, a CSV file or a record holds, it is taken or refused in one line."""

from __future__ import annotations

import copy
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from capture.errors import CowlnoteError
from desk import profile
from record import dump, jobs, media, queue, service
from record.reports import read_csv
from record.store import Store
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken

WHOLE = (Path(profile.__file__).parent / "data" / "aircraft.toml").read_text("utf-8")
KEYS = sorted({line.lstrip("# ").split(" =")[0] for line in WHOLE.splitlines() if " = " in line})
ODD = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["", "NaN", "1e999999", "9" * 400, "0001-01-01T00:00:00+14:00", "[]", "{}"]),
)
VALUES = st.sampled_from(
    [
        "1",
        "-1",
        "1e999",
        "nan",
        "inf",
        '""',
        "[]",
        "[1]",
        "[2,1]",
        "{}",
        "true",
        "9999-12-31",
        "0x10",
        '"\\u0000"',
        "[[]]",
        "07:32:00",
        "1e-400",
        "2026-03-14T00:00:00Z",
        "9999999999999999999999999999999999999999",
    ]
)


def one_line(error: CowlnoteError) -> None:
    assert str(error)
    assert "\n" not in str(error)


@given(st.lists(st.tuples(st.sampled_from(KEYS), VALUES), max_size=4), st.text(max_size=20))
def test_a_profile_is_read_or_refused(lines, salad):
    for text in ("\n".join(f"{key} = {value}" for key, value in lines), salad):
        try:
            profile.read_profile(text, Path("aircraft.toml"), ZoneInfo("UTC"))
        except CowlnoteError as error:
            one_line(error)


ASKED = ["Fe", "lab", "date", "2026-03-14", "<1", "22", "9" * 30]
CELL = st.one_of(st.text(max_size=8), st.sampled_from(ASKED))
ROWS = st.lists(st.lists(CELL, max_size=5), max_size=5)


@given(ROWS, st.sampled_from(",;\t"), st.text(max_size=40))
def test_a_csv_file_is_read_or_refused(rows, mark, salad):
    head = mark.join(("lab", "date", "hours", "Fe"))
    made = "\n".join(mark.join(row) for row in rows)
    for text in (made, f"{head}\n{made}", salad, f"{head}\n{salad}"):
        try:
            read_csv(text, source="a.csv")
        except CowlnoteError as error:
            one_line(error)


@pytest.fixture(scope="module")
def document(tmp_path_factory):
    store = Store.open(tmp_path_factory.mktemp("whole"))
    with store.session() as session:
        row = media.note(session, kept("memo.wav"), began())
        job = jobs.job_for(session, BEGAN)
        media.join(session, row.id, job)
        media.keep_transcript(session, row.id, spoken("torqued to 17 and that is it"))
        queue.confirm(session, queue.put(session, job, [draft(), draft("oil_level", "7")])[:1], WHO)
    with store.session(write=False) as session:
        return dump.dump(session)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_record_from_outside_is_taken_or_refused(document, tmp_path_factory, data):
    """One cell is another; what is let in is read as later commands read it."""
    spoilt = copy.deepcopy(document)
    table = data.draw(st.sampled_from([t for t, rows in spoilt["tables"].items() if rows]))
    row = data.draw(st.sampled_from(spoilt["tables"][table]))
    column = data.draw(st.sampled_from(sorted(row)))
    row[column] = data.draw(st.one_of(ODD, st.integers(), st.floats(), st.none(), st.booleans()))
    if list(Draft202012Validator(dump.schema()).iter_errors({**spoilt, "files": []})):
        return
    store = Store.open(tmp_path_factory.mktemp("in"))
    try:
        dump.need_readable(spoilt)
        with store.session() as session:
            dump.fill(session, spoilt)
        with store.session(write=False) as session:
            for job in jobs.jobs(session):
                service.service(session, job.id)
    except CowlnoteError as error:
        one_line(error)
    finally:
        store.close()
