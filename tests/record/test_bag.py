"""A bag is read by others' tools: the BagIt validator, a WebVTT reader, a JSON Schema validator."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path

import bagit
import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from sqlalchemy import create_engine, text

from capture.errors import InputError
from record import arrange, bag, dump, jobs, media, queue
from record.errors import IntegrityError, RefusedError
from record.store import HEAD, Store
from tests.record.conftest import BEGAN, WHO, began, draft, kept, spoken

TOP = Path(__file__).parents[2]
ABOUT = {"External-Identifier": "N0417Q"}
BYTES = b"not really a sound"
SHA = hashlib.sha256(BYTES).hexdigest()


@pytest.fixture
def document(store, catalogue):
    """A record of one closed job with a memo, a confirmed draft, a typed value and a report."""
    with store.session() as session:
        file = kept()
        row = media.note(
            session, type(file)(SHA, file.name, len(BYTES), "memo", file.modified), began()
        )
        job = jobs.job_for(session, BEGAN)
        media.join(session, row.id, job)
        media.keep_transcript(
            session, row.id, spoken("torqued to 17 <b> & that --> is it", pause_after=3)
        )
        (first,) = queue.put(session, job, [draft()])
        queue.confirm(session, [first], WHO)
        queue.add(session, job, "oil_level", "7.250", WHO, catalogue=catalogue)
        jobs.close(session, job, WHO)
        return dump.dump(session)


@pytest.fixture
def source(tmp_path):
    path = tmp_path / "kept"
    path.write_bytes(BYTES)
    return path


def written(document, source, out, strip=None):
    return bag.write(
        document,
        {SHA: source},
        out,
        strip=strip,
        papers={"entries/job-0001.txt": b"x"},
        about=ABOUT,
    )


def test_the_validator_of_others_finds_the_bag_complete(document, source, tmp_path):
    """RFC 8493, by the Library of Congress's validator."""
    out = written(document, source, tmp_path / "out")
    assert bagit.Bag(str(out)).validate()
    assert bagit.Bag(str(out)).info["External-Identifier"] == "N0417Q"


def test_transcripts_are_read_by_a_webvtt_reader(document, source, tmp_path):
    """WebVTT (W3C), by webvtt-py."""
    out = written(document, source, tmp_path / "out")
    (path,) = (out / "data" / "transcripts").iterdir()
    captions = webvtt.read(path).captions
    assert captions[0].text == "torqued to 17"
    assert captions[0].start_in_seconds == 1
    assert "<b>" not in path.read_text("utf-8")


def test_the_record_is_as_its_published_schema_says(document, source, tmp_path):
    out = written(document, source, tmp_path / "out")
    full = json.loads((out / "data" / "record.json").read_text("utf-8"))
    published = json.loads((TOP / "docs" / "record.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(published)
    Draft202012Validator(published).validate(full)
    full["tables"]["entry"][0]["value"] = 17
    assert list(Draft202012Validator(published).iter_errors(full))


def test_the_published_schema_has_every_column_and_is_the_one_that_the_program_uses():
    published = json.loads((TOP / "docs" / "record.schema.json").read_text("utf-8"))
    assert published == dump.schema()
    tables = published["properties"]["tables"]["properties"]
    assert {dump.name_of(t): set(t.__table__.columns.keys()) for t in dump.TABLES} == {
        name: set(table["items"]["properties"]) for name, table in tables.items()
    }


def test_tables_open_in_a_spreadsheet_with_every_digit(document, source, tmp_path):
    out = written(document, source, tmp_path / "out")
    with (out / "data" / "csv" / "entry.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["value"] for row in rows] == ["17", "7.250"]
    assert rows[0]["position"] == ""


def test_an_original_is_byte_for_byte_unless_its_position_is_taken_out(document, source, tmp_path):
    out = written(document, source, tmp_path / "out")
    (one,) = bag.read(out).files
    assert (out / "data" / one.file).read_bytes() == BYTES
    assert (one.file_sha256, one.position_removed) == (SHA, False)
    out = written(
        document,
        source,
        tmp_path / "bare",
        strip=lambda path: path.write_bytes(BYTES.replace(b"y", b" ")),
    )
    (one,) = bag.read(out).files
    assert one.sha256 == SHA
    assert one.position_removed
    assert one.file_sha256 == hashlib.sha256((out / "data" / one.file).read_bytes()).hexdigest()


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request, tmp_path):
    """An empty record on each engine, another than the one that goes out."""
    if request.param == "sqlite":
        yield Store.open(tmp_path / "second")
        return
    url = request.getfixturevalue("postgres")
    engine = create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    store = Store.open(url)
    yield store
    store.close()


def test_into_an_empty_record_and_out_again_is_the_same(document, source, tmp_path, empty):
    found = bag.read(written(document, source, tmp_path / "out"))
    with empty.session() as session:
        dump.fill(session, found.document)
    with empty.session() as session:
        assert dump.dump(session) == document
        assert jobs.job_for(session, None, new=True) == 2


def test_what_was_arranged_goes_out_and_comes_in_with_its_links(store, tmp_path, empty):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN)
        numbers = [media.note(session, kept(f"{d}.wav", d), began()).id for d in "ab"]
        for number in numbers:
            media.join(session, number, job)
        arrange.split(session, job, numbers[1:], WHO, "another afternoon")
        arrange.aside(session, job, WHO, "a trial", numbers[0])
        arrange.set_kind(session, job, "tire", WHO)
        jobs.close(session, job, WHO)
        arrange.aside(session, 2, WHO, "a trial")
        document = dump.dump(session)
    with empty.session() as session:
        dump.fill(session, json.loads(json.dumps(document)))
    with empty.session() as session:
        assert dump.dump(session) == document
        assert len(document["tables"]["arrangement"]) == 4
        assert [a.action for a in arrange.arrangements(session)] == [
            "split",
            "aside",
            "kind",
            "aside",
        ]


def test_an_export_of_before_arrangements_is_taken_in(document, tmp_path):
    del document["tables"]["arrangement"]
    for table, added in (("job", ("offered", "aside")), ("media", ("aside",))):
        for row in document["tables"][table]:
            for name in added:
                del row[name]
    Draft202012Validator(dump.schema()).validate({**document, "files": []})
    store = Store.open(tmp_path / "second")
    with store.session() as session:
        dump.fill(session, document)
        assert [j.aside for j in jobs.jobs(session)] == [False]
    store.close()


def test_a_record_that_holds_something_takes_nothing_in(document, store):
    with pytest.raises(RefusedError, match="already"), store.session() as session:
        dump.fill(session, document)


def test_a_changed_entry_is_not_taken_in_and_leaves_nothing(document, tmp_path):
    document["tables"]["entry"][0]["value"] = "18"
    store = Store.open(tmp_path / "second")
    with pytest.raises(IntegrityError, match="entry"), store.session() as session:
        dump.fill(session, document)
    with store.session(write=False) as session:
        assert jobs.jobs(session) == []
    store.close()


def test_links_cut_off_the_end_are_noticed(document, tmp_path):
    document["tables"]["entry"].pop()
    document["tables"]["decision"] = document["tables"]["decision"][:1]
    document["tables"]["draft"].pop()
    document["tables"]["job"][0].update(closed_at=None, closed_by=None)
    store = Store.open(tmp_path / "second")
    with pytest.raises(IntegrityError), store.session() as session:
        dump.fill(session, document)
    store.close()


def test_a_flipped_byte_is_found_and_named(document, source, tmp_path):
    out = written(document, source, tmp_path / "out")
    (path,) = (out / "data" / "originals").iterdir()
    path.write_bytes(BYTES.replace(b"s", b"z", 1))
    with pytest.raises(IntegrityError, match="damaged"):
        bag.read(out)


@pytest.mark.parametrize("make", ["nothing", "folder", "file", "other bag"])
def test_what_is_no_export_is_one_clear_line(tmp_path, make):
    where = tmp_path / "x"
    if make == "file":
        where.write_text("x")
    elif make != "nothing":
        where.mkdir()
        (where / "a.txt").write_text("a")
        if make == "other bag":
            bagit.make_bag(str(where), {})
    with pytest.raises(InputError) as caught:
        bag.read(where)
    assert "\n" not in str(caught.value)


def test_an_export_never_writes_over_anything(document, source, tmp_path):
    (tmp_path / "out").mkdir()
    with pytest.raises(InputError, match="already"):
        written(document, source, tmp_path / "out")


def test_an_export_that_dies_leaves_no_half_of_it(document, source, tmp_path):
    def dies(path):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        written(document, source, tmp_path / "out", strip=dies)
    assert not (tmp_path / "out").exists()
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".out")]


def test_a_missing_original_is_listed_as_missing(document, tmp_path):
    out = bag.write(document, {}, tmp_path / "out", strip=None, papers={}, about=ABOUT)
    (one,) = bag.read(out).files
    assert (one.file, one.file_sha256) == (None, None)


def test_the_revision_of_the_tables_is_in_the_dump(document):
    assert document["revision"] == HEAD


texts = st.text(min_size=1, max_size=60)
spans = st.tuples(st.floats(0, 9000), st.floats(0, 30), texts)


@given(st.lists(spans, max_size=8))
def test_any_words_make_a_transcript_that_a_reader_takes(cues):
    row = {"original": "a --> b.wav", "began": None, "sha256": SHA}
    segments = [{"start_s": a, "end_s": a + b, "text": t} for a, b, t in cues]
    made = bag.webvtt(row, "base", segments)
    captions = webvtt.from_string(made).captions
    assert len(captions) == sum(bool(" ".join(t.split())) for _, _, t in cues)


@given(st.text(min_size=1, max_size=80))
def test_any_file_name_becomes_a_portable_one(name):
    made = bag.safe({"original": name, "sha256": SHA})
    assert made.isascii()
    assert not set(made) & set('/\\:*?"<>|\n\r')
    assert SHA[:12] in made
