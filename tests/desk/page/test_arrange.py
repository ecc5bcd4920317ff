"""Arranging a job on the page, over HTTP: what is shown, what is done, what is refused."""

from __future__ import annotations

import pytest

from capture.observed import Hearing, Instant, Transcript
from record import arrange, chain, jobs, media, queue
from tests.desk.page.conftest import BEGAN, sound

WHO = "Ines Invented"


def act(client, job, **body):
    return client.post(f"/job/{job}/arrange", json={"by": WHO, **body})


def of(desk) -> dict[str, int]:
    with desk.store.session(write=False) as session:
        return {m.name: m.job for m in media.media(session)}


def number(desk, name: str) -> int:
    with desk.store.session(write=False) as session:
        return media.find_media(session, name).id


def whole(desk) -> None:
    with desk.store.session(write=False) as session:
        assert chain.prove(session) is None


@pytest.fixture
def drowned(filled):
    """A memo in which somebody speaks and no word was understood."""
    desk = filled.desk
    with desk.store.session() as session:
        kept = desk.vault.keep(sound(desk.settings.home / "drowned.wav", 3.0, 400.0))
        row = media.note(session, kept, Instant(BEGAN, "container"))
        media.join(session, row.id, filled.job)
        heard = Transcript("drowned.wav", 30.0, (Hearing("made", "", ()),), ((0.0, 12.0),))
        media.keep_transcript(session, row.id, heard)
    return row.id


def test_a_memo_is_moved_to_a_new_job_and_what_was_decided_waits_there(client, filled):
    desk = filled.desk
    with desk.store.session() as session:
        first = next(q for q in queue.waiting(session) if q.draft.media == "memo_01.wav")
        queue.confirm(session, [first.id], WHO)
    answer = act(client, filled.job, act="move", files=[number(desk, "memo_01.wav")], to="new")
    assert answer.json() == {"jobs": [filled.job, 2], "taken_back": 1}
    assert of(desk)["memo_01.wav"] == 2
    page = client.get("/job/2/arrange").text
    assert f"split off from job {filled.job} to job 2 by {WHO}" in page
    whole(desk)


def test_jobs_are_joined_and_set_aside_and_taken_back(client, filled):
    desk = filled.desk
    act(client, filled.job, act="move", files=[number(desk, "memo_01.wav")], to="new")
    assert act(client, 2, act="join", to=filled.job).status_code == 200
    assert set(of(desk).values()) == {filled.job}
    assert 'href="/job/2/arrange"' in client.get("/").text
    assert "This job is set aside" in client.get("/record/2").text
    assert act(client, 2, act="back").status_code == 200
    with desk.store.session(write=False) as session:
        assert [j.id for j in jobs.jobs(session)] == [filled.job, 2]
    whole(desk)


def test_kind_aircraft_and_clock_are_said_on_the_page(client, filled):
    desk, memo = filled.desk, number(filled.desk, "memo_00.wav")
    act(client, filled.job, act="kind", value="compression")
    act(client, filled.job, act="aircraft", value="n0655x")
    act(client, filled.job, act="clock", files=[memo], value="+1h")
    page = client.get(f"/job/{filled.job}").text
    assert "N0655X" in page
    assert "not of N0417Q" in page
    assert "10:12:05" in page
    with desk.store.session(write=False) as session:
        assert jobs.get(session, filled.job).kind == "compression"
    whole(desk)


def test_a_memo_set_aside_shows_as_such_and_its_values_are_gone(client, filled):
    memo = number(filled.desk, "memo_00.wav")
    assert act(client, filled.job, act="aside", files=[memo], because="a trial").status_code == 200
    page = client.get(f"/job/{filled.job}").text
    assert "Set aside: kept, and not counted." in page
    act(client, filled.job, act="back", files=[memo])
    assert "Set aside: kept" not in client.get(f"/job/{filled.job}").text
    whole(filled.desk)


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"act": "move", "files": [], "to": "new"}, 409),
        ({"act": "move", "files": [1], "to": 99}, 409),
        ({"act": "move", "files": [1], "to": None}, 400),
        ({"act": "move", "files": ["1"], "to": "new"}, 400),
        ({"act": "aside", "files": [1], "because": ""}, 409),
        ({"act": "aside", "files": [1], "because": "x", "by": ""}, 409),
        ({"act": "aside", "files": [99], "because": "x"}, 409),
        ({"act": "kind", "value": "overhaul"}, 400),
        ({"act": "clock", "files": [1], "value": "soon"}, 400),
        ({"act": "fly"}, 400),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_changes_nothing(client, filled, body, status):
    answer = act(client, filled.job, **body)
    assert answer.status_code == status
    assert "\n" not in answer.text.strip()
    with filled.desk.store.session(write=False) as session:
        assert arrange.arrangements(session) == []


def test_without_the_pages_token_nothing_is_arranged(client, filled):
    del client.headers["x-cowlnote-token"]
    assert act(client, filled.job, act="kind", value="tire").status_code == 403


def test_a_memo_in_which_nothing_was_understood_is_named_with_its_sound(client, filled, drowned):
    for where in ("/", f"/job/{filled.job}", f"/job/{filled.job}/arrange"):
        page = client.get(where).text
        assert "drowned.wav" in page
        assert "somebody speaks for 12 s and no word was understood" in page
        assert f'controls preload="none" src="/media/{drowned}/sound"' in page
    assert client.get(f"/media/{drowned}/sound").status_code == 200


def test_jobs_of_several_aircraft_say_whose_they_are(client, filled):
    assert "Aircraft</th>" not in client.get("/").text
    with filled.desk.store.session() as session:
        jobs.job_for(session, None, new=True, aircraft="N0655X")
    page = client.get("/").text
    assert "Aircraft</th>" in page
    assert "N0655X" in page


def test_each_job_is_judged_by_its_own_aircraft_and_the_record_shows_one_at_a_time(client, filled):
    desk = filled.desk
    with desk.store.session() as session:
        job = jobs.job_for(session, None, new=True, kind="free", aircraft="N0655X")
        queue.add(session, job, "oil_added", "2", WHO)
    own, other = client.get("/record").text, client.get("/record?aircraft=N0655X").text
    assert f"/record/{job}" not in own
    assert "aircraft=N0655X" in own
    assert f"/record/{job}" in other
    assert "Services of N0655X" in other
    assert "of N0417Q" in client.get("/record?aircraft=N9999X").text
    for path in (f"/record/{job}", f"/job/{job}", f"/record/{job}/entry.pdf"):
        assert client.get(path).status_code == 200


def test_an_offered_kind_is_shown_as_offered(client, filled):
    with filled.desk.store.session() as session:
        job = jobs.job_for(session, None, new=True, kind=None, aircraft="N0417Q")
        jobs.offer(session, job, "tire", "tire pressure was said")
    assert "(offered)" in client.get("/").text
    assert "offered: tire pressure was said" in client.get(f"/job/{job}").text


def test_the_runner_counts_every_job_and_names_every_file_over_several_runs():
    from desk.intake import JobDone, Summary
    from desk.web.runner import Runner

    one = JobDone(1, "N0417Q", "tire", BEGAN.date(), ("a.wav",), 2, 1)
    runs = iter(
        [
            Summary(done=[one], left=[("bad.wav", "no sound in it")]),
            Summary(done=[JobDone(2, "N0417Q", "free", BEGAN.date(), ("b.wav",), 1, 0)]),
            Summary(done=[JobDone(1, "N0417Q", "tire", BEGAN.date(), ("c.wav",), 3, 1)]),
        ]
    )
    runner = Runner(lambda report: next(runs))
    for _ in range(3):
        runner._end(runner.work(runner))
    (said,) = [content for _, kind, content in runner.since(0) if kind == "run"]
    assert said["words"] == (
        "Done: 3 files in 2 jobs, 4 values, 1 of them doubtful. 1 could not be taken: bad.wav."
    )
    assert [(j["id"], j["files"]) for j in said["jobs"]] == [
        (1, ["a.wav", "c.wav"]),
        (2, ["b.wav"]),
    ]
