from __future__ import annotations

import json
import re

import pytest

from record import chain, entries, queue

WHO = "Ines Invented"


def decide(client, job, **body):
    return client.post(f"/job/{job}/decide", json={"by": WHO, **body})


def test_the_first_page_counts_what_waits(client, filled):
    page = client.get("/").text
    assert f'href="/job/{filled.job}"' in page
    assert "N0417Q" in page


def test_review_shows_each_draft_beside_its_evidence(client, filled):
    page = client.get(f"/job/{filled.job}").text
    assert page.count("<article") == filled.waiting
    assert "two hearings differ" in page
    assert "/crop" in page
    assert page.index("memo_00.wav") < page.index("photo_00.jpg") < page.index("memo_01.wav")


def test_a_decision_enters_the_record_under_the_name(client, filled):
    answer = decide(client, filled.job, act="confirm", id=6)
    assert answer.json()["state"] == "confirmed"
    with filled.desk.store.session() as session:
        (entry,) = entries.entries(session, filled.job)
        assert (entry.name, str(entry.value), entry.by) == ("tach_time", "2345.6", WHO)
        assert chain.prove(session) is None


def test_without_a_name_nothing_is_decided(client, filled):
    answer = decide(client, filled.job, act="confirm", id=6, by=" ")
    assert answer.status_code == 409
    assert "name" in answer.text
    with filled.desk.store.session() as session:
        assert len(queue.waiting(session, filled.job)) == filled.waiting


def test_an_amended_value_is_shown_as_amended_and_can_be_taken_back(client, filled):
    decide(client, filled.job, act="amend", id=6, value="2345.7", because="misheard")
    page = client.get(f"/record/{filled.job}").text
    assert "2345.7 h" in page
    assert "amended" in page
    assert decide(client, filled.job, act="undo", id=6).json()["state"] == "waiting"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"act": "amend", "id": 6, "value": "abc", "because": "x"}, 400),
        ({"act": "amend", "id": 6, "value": "2345.7", "because": ""}, 409),
        ({"act": "reject", "id": 6, "because": ""}, 409),
        ({"act": "undo", "id": 6}, 409),
        ({"act": "confirm", "id": 999}, 409),
        ({"act": "confirm", "id": "6"}, 400),
        ({"act": "sign", "id": 6}, 400),
    ],
)
def test_what_cannot_be_decided_is_said_in_one_sentence(client, filled, body, status):
    answer = decide(client, filled.job, **body)
    assert answer.status_code == status
    assert answer.text
    assert "Traceback" not in answer.text


def test_a_typed_value_is_marked_as_typed(client, filled):
    body = {"name": "oil_added", "value": "6", "position": "", "by": WHO}
    assert client.post(f"/job/{filled.job}/add", json=body).status_code == 200
    page = client.get(f"/job/{filled.job}").text
    assert "Typed at the desk" in page


def test_marked_words_are_read_and_nothing_is_decided(client, filled):
    body = {"name": "tach_time", "position": None, "words": "two three four five point six"}
    answer = client.post(f"/job/{filled.job}/read", json=body)
    assert answer.json() == {"value": "2345.6"}
    body["words"] = "the hangar door"
    assert client.post(f"/job/{filled.job}/read", json=body).status_code == 400


def test_sound_is_seekable_and_has_a_waveform(client, filled):
    answer = client.get("/media/1/sound", headers={"range": "bytes=0-99"})
    assert answer.status_code == 206
    assert len(answer.content) == 100
    peaks = client.get("/media/1/peaks").json()
    assert len(peaks) == 1200
    assert 0.2 < max(peaks) <= 1


def test_a_photo_is_small_upright_and_without_its_position(client):
    answer = client.get("/media/3/photo?px=320")
    assert answer.headers["content-type"] == "image/jpeg"
    assert b"Exif" not in answer.content[:200]
    assert client.get("/draft/6/crop").headers["content-type"] == "image/jpeg"


def test_search_gives_the_memo_and_its_second(client):
    page = client.get("/search?q=quarts").text
    assert "memo_00.wav" in page
    assert 'data-start="' in page
    assert "Nothing found" in client.get("/search?q=zeppelin").text


def test_words_of_a_memo_cannot_break_out_of_the_page(client, filled):
    with filled.desk.store.session() as session:
        from tests.desk.page.conftest import draft

        bad = draft("oil_grade", "</script><b>SAE", "memo_00.wav", 2.0, heard="<img src=x>")
        queue.put(session, filled.job, [bad])
    page = client.get(f"/job/{filled.job}").text
    assert "<img src=x>" not in page
    data = re.search(r'id="drafts">(.*?)</script>', page, re.DOTALL)
    assert any(d["heard"] == "<img src=x>" for d in json.loads(data.group(1)))


def test_the_entry_prints_on_two_papers(client, filled):
    for size in ("A5", "sticker"):
        answer = client.get(f"/record/{filled.job}/entry.pdf?size={size}")
        assert answer.content.startswith(b"%PDF")


def test_what_is_not_there_is_said_plainly(client):
    answer = client.get("/job/77", headers={"accept": "text/html"})
    assert answer.status_code == 409
    assert "there is no job 77" in answer.text
    assert client.get("/media/3/sound").status_code == 404


def test_a_job_is_closed_in_a_name_and_then_nothing_changes(client, filled):
    url = f"/job/{filled.job}/close"
    assert client.post(url, json={"by": WHO}).status_code == 409
    for number in range(1, filled.waiting + 1):
        decide(client, filled.job, act="confirm", id=number)
    assert client.post(url, json={"by": " "}).status_code == 409
    assert client.post(url, json={"by": WHO}).status_code == 200
    answer = decide(client, filled.job, act="undo", id=1)
    assert answer.status_code == 409
    assert f"closed by {WHO}" in answer.text
    assert f"Closed by {WHO}" in client.get(f"/job/{filled.job}").text


def test_a_correction_keeps_what_it_corrected_and_the_link_to_its_evidence(client, filled):
    decide(client, filled.job, act="confirm", id=6)
    with filled.desk.store.session() as session:
        (entry,) = entries.entries(session, filled.job)
    url = f"/record/{filled.job}/correct"
    body = {"entry": str(entry.id), "value": "2354.6", "because": "turned about", "by": WHO}
    assert client.post(url, json={**body, "by": ""}).status_code == 409
    assert client.post(url, json={**body, "value": "soon"}).status_code == 400
    assert client.post(url, json=body).status_code == 200
    assert client.post(url, json=body).status_code == 400  # it counts no longer
    page = client.get(f"/record/{filled.job}").text
    assert "<s>2345.6 h</s>" in page
    assert f'<a href="/job/{filled.job}#draft-6">2354.6 h</a>' in page
    with filled.desk.store.session() as session:
        assert chain.prove(session) is None


def test_an_entry_of_another_job_cannot_be_corrected_through_this_one(client, filled):
    decide(client, filled.job, act="confirm", id=6)
    body = {"entry": "1", "value": "1", "because": "x", "by": WHO}
    assert client.post("/record/2/correct", json=body).status_code == 400


def test_the_record_says_when_the_next_oil_change_is_due(client, filled):
    for name, value in (("oil_added", "6"), ("service_date", "2026-03-14")):
        body = {"name": name, "value": value, "position": "", "by": WHO}
        assert client.post(f"/job/{filled.job}/add", json=body).status_code == 200
    decide(client, filled.job, act="confirm", id=6)
    page = client.get("/record").text
    # 4 months after 14 March, common practice: record/data names it
    assert "2026-07-14" in page
    assert f"/job/{filled.job}#draft-6" in page


def test_every_value_a_field_ever_had_is_found(client, filled):
    decide(client, filled.job, act="confirm", id=6)
    page = client.get("/search?field=tach_time").text
    assert "tach time: 2345.6 h" in page
    assert f"entered by {WHO}" in page
    assert "Nothing found" in client.get("/search?since=2030-01-01").text
    assert "memo_00.wav" in client.get("/search?since=2026-03-14&until=2026-03-14").text


def test_a_name_in_any_alphabet_is_printed_as_it_is():
    from desk.paper_pdf import entry_pdf

    # a built-in letter's PDF names Courier alone; the signs it lacks come with their own letters
    assert b"DejaVu" in entry_pdf("Entered by Łukasz Zmyślony.")
    assert b"DejaVu" not in entry_pdf("Entered by Ines Invented: 180 °F — “seen”.")
