from __future__ import annotations

import html
import json
import re

import pytest

from record import chain, entries, queue

WHO = "Ines Invented"


def decide(client, job, **body):
    """Decide as the page does: with what it shows now."""
    shown = client.get(f"/draft/{body['id']}").json().get("seen") if body.get("id") != 999 else None
    shown = shown or {"value": "1 h", "unit": None, "position": None, "version": "", "doubts": []}
    return client.post(f"/job/{job}/decide", json={"by": WHO, "shown": shown, **body})


def seen(client, job, entry):
    """What the record page shows of an entry, as a correction must name it."""
    page = client.get(f"/record/{job}").text
    found = re.search(rf'<option value="{entry}" data-seen="([^"]*)"', page)
    return json.loads(html.unescape(found.group(1)))


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
        ({"act": "sign", "id": 6}, 400),
    ],
)
def test_what_cannot_be_decided_is_said_in_one_sentence(client, filled, body, status):
    answer = decide(client, filled.job, **body)
    assert answer.status_code == status
    assert answer.text
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("body", [{"id": "6"}, {"id": True}, {}, {"id": 6}, {"id": 6, "shown": {}}])
def test_what_names_no_draft_or_not_what_was_shown_is_no_decision(client, filled, body):
    sent = {"by": WHO, "act": "confirm", **body}
    answer = client.post(f"/job/{filled.job}/decide", json=sent)
    assert answer.status_code == 400
    with filled.desk.store.session() as session:
        assert len(queue.waiting(session, filled.job)) == filled.waiting


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
    url, left = f"/job/{filled.job}/close", f"/job/{filled.job}/left"
    seen = client.get(left).json()["lines"]
    assert any(line.startswith("waiting: tach time 2345.6 h") for line in seen)
    assert client.post(url, json={"by": WHO, "because": "x"}).status_code == 400  # not shown
    assert client.post(url, json={"by": WHO, "seen": seen}).status_code == 409  # no reason
    for number in range(1, filled.waiting + 1):
        decide(client, filled.job, act="confirm", id=number)
    body = {"seen": seen, "because": "the rest is in the old book"}
    answer = client.post(url, json={**body, "by": WHO})
    assert answer.status_code == 409
    assert "not as it was shown any more" in answer.text
    body["seen"] = client.get(left).json()["lines"]
    assert client.post(url, json={**body, "by": " "}).status_code == 409
    assert client.post(url, json={**body, "by": WHO}).status_code == 200
    page = client.get(f"/record/{filled.job}").text
    assert "because the rest is in the old book" in page
    assert "missing: oil added" in page
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
    assert client.post(url, json=body).status_code == 400  # not told what was shown
    body["shown"] = seen(client, filled.job, entry.id)
    assert client.post(url, json={**body, "by": ""}).status_code == 409
    assert client.post(url, json={**body, "value": "soon"}).status_code == 400
    assert client.post(url, json=body).status_code == 200
    assert client.post(url, json=body).status_code == 409  # it counts no longer
    page = client.get(f"/record/{filled.job}").text
    assert "<s>2345.6 h</s>" in page
    assert f'<a href="/job/{filled.job}#draft-6">2354.6 h</a>' in page
    with filled.desk.store.session() as session:
        assert chain.prove(session) is None


def test_an_entry_of_another_job_cannot_be_corrected_through_this_one(client, filled):
    decide(client, filled.job, act="confirm", id=6)
    (number,) = re.findall(r'<option value="(\d+)" data-seen', client.get("/record/1").text)
    shown = seen(client, filled.job, number)
    body = {"entry": number, "value": "2345", "because": "x", "by": WHO, "shown": shown}
    assert client.post("/record/2/correct", json=body).status_code == 409


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


def bad_job(filled):
    from tests.desk.page.conftest import draft

    made = [
        draft("leak_check", "fail", "memo_00.wav", 2.0),
        draft("drain_closed", False, "memo_00.wav", 5.0),
    ]
    with filled.desk.store.session() as session:
        return queue.put(session, filled.job, made)


def test_bad_news_stands_at_the_top_of_its_job_with_mark_word_and_caution(client, filled):
    leak, drain = bad_job(filled)
    for url in (f"/job/{filled.job}", f"/record/{filled.job}", "/record"):
        page = client.get(url).text
        assert "ADVERSE: a leak was found" in page, url
        assert "check the level before flight" in page, url
        assert "▲" in page, url
    assert f'id="s{leak}">▲ ADVERSE<' in client.get(f"/job/{filled.job}").text  # read aloud too
    decide(client, filled.job, act="confirm", id=leak)
    page = client.get(f"/job/{filled.job}").text
    assert f'href="#draft-{leak}"' in page
    card = page[page.index(f'id="draft-{leak}"') :].partition("</article>")[0]
    assert "▲ ADVERSE, confirmed by Ines Invented" in card
    assert "✓" not in card
    page = client.get(f"/record/{filled.job}").text
    assert 'leak check <span class="mark">▲ ADVERSE</span>' in page
    assert "OPEN: a leak was found" in page
    assert "OPEN in job 1: a leak was found" in client.get("/record").text
    assert drain


def test_the_answer_to_a_decision_carries_the_caution(client, filled):
    leak, _ = bad_job(filled)
    told = decide(client, filled.job, act="confirm", id=leak).json()
    assert told["adverse"]["told"] == "a leak was found"
    assert "check the level" in told["adverse"]["caution"]
    told = decide(client, filled.job, act="undo", id=leak).json()
    told = decide(client, filled.job, act="amend", id=leak, value="pass", because="misheard").json()
    assert told["adverse"] is None


def test_what_was_put_right_is_shown_as_what_it_was(client, filled):
    leak, _ = bad_job(filled)
    decide(client, filled.job, act="confirm", id=leak)
    body = {"name": "leak_check", "value": "pass", "position": "", "by": WHO}
    asked = client.post(f"/job/{filled.job}/add", json=body)
    assert asked.status_code == 409
    body |= {"replaces": asked.json()["asks"]["replaces"]["entry"], "because": "ran it again"}
    assert client.post(f"/job/{filled.job}/add", json=body).status_code == 200
    page = client.get(f"/job/{filled.job}").text
    card = page[page.index(f'id="draft-{leak}"') :].partition("</article>")[0]
    assert "WAS ADVERSE" in card
    page = client.get(f"/record/{filled.job}").text
    assert "before: LEAK CHECK FAILED" in page
    assert '<span class="soft">before: fail (a leak was found)</span>' in page


def test_the_pdf_of_an_open_job_has_nowhere_to_sign(client, filled, tmp_path):
    import shutil
    import subprocess

    if shutil.which("pdftotext") is None:
        pytest.skip("no poppler-utils to read a PDF with")
    leak, _ = bad_job(filled)
    decide(client, filled.job, act="confirm", id=leak)
    path = tmp_path / "entry.pdf"
    path.write_bytes(client.get(f"/record/{filled.job}/entry.pdf?size=A5").content)
    ran = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    assert "OPEN: a leak was found" in " ".join(ran.stdout.split())
    assert "Certificate number" not in ran.stdout


def test_the_record_says_which_job_waits_and_is_not_counted(client, filled):
    page = client.get("/record").text
    assert f"job 1 waits, not counted: {filled.waiting} drafts wait for a decision" in page


@pytest.mark.parametrize("seen", ["2345.6", "2345.8"])  # it agrees with what was said, or differs
def test_the_picture_stands_in_the_card_of_what_was_said(client, filled, seen):
    from decimal import Decimal

    from extract.values.draft import Evidence
    from tests.desk.page.conftest import QUAD, draft

    photo = Evidence("photo_00.jpg", seen, None, None, None, QUAD)
    said = draft("hour_meter_time", Decimal("2345.6"), "memo_00.wav", 2.0, unit="h", also=(photo,))
    with filled.desk.store.session() as session:
        queue.reject(session, 6, WHO, "read wrong")  # the only draft that stood with the photo
        (id,) = queue.put(session, filled.job, [said])
    page = client.get(f"/job/{filled.job}").text
    card = page[page.index(f'id="draft-{id}"') :].partition("</article>")[0]
    assert f'src="/draft/{id}/crop?of=photo_00.jpg"' in card
    assert f"What was read in photo_00.jpg: {seen}" in card
    answer = client.get(f"/draft/{id}/crop?of=photo_00.jpg")
    assert answer.headers["content-type"] == "image/jpeg"
    assert client.get(f"/draft/{id}/crop?of=memo_00.wav").status_code == 404


def test_no_value_here_does_not_stand_beside_a_photo_that_was_used(client, tmp_path):
    from decimal import Decimal

    from extract.values.draft import Evidence
    from tests.desk.page.conftest import QUAD, client_of, draft, fill

    filled = fill(tmp_path / "other", memos=1, photos=2, drafts=1, doubtful=0)
    photo = Evidence("photo_01.jpg", "1889.8", None, None, None, QUAD)
    said = draft("hour_meter_time", Decimal("1889.3"), "memo_00.wav", 2.0, unit="h", also=(photo,))
    with filled.desk.store.session() as session:
        (id,) = queue.put(session, filled.job, [said])
    made = client_of(filled.desk)
    made.get(f"/open/{filled.desk.doors.invite('desk')}")
    page = made.get(f"/job/{filled.job}").text
    piece = page[page.index('aria-label="photo_01.jpg"') :].partition("</section>")[0]
    assert "No value here" not in piece
    assert f'What this shows stands in: <a href="#draft-{id}">' in piece
    filled.desk.store.close()


def test_a_defect_is_added_and_ended_on_the_page(client, filled):
    body = {"name": "defect", "value": "cracked exhaust stud", "position": "", "by": WHO}
    assert client.post(f"/job/{filled.job}/add", json=body).status_code == 200
    page = client.get(f"/record/{filled.job}").text
    assert f"{filled.job}.1  open: cracked exhaust stud" in page
    assert "cracked exhaust stud" in client.get("/record").text
    told = {"defect": f"{filled.job}.1", "state": "cleared", "in": str(filled.job)}
    where = f"/record/{filled.job}/defect"
    assert client.post(where, json={**told, "by": WHO, "because": ""}).status_code == 409
    assert client.post(where, json={**told, "by": WHO, "because": "new stud"}).status_code == 200
    page = client.get(f"/record/{filled.job}").text
    assert "cleared: cracked exhaust stud" in page
    assert 'id="became"' not in page
    assert "<s>open: cracked exhaust stud</s>" in page
