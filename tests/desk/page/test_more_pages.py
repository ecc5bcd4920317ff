"""The pages that take the terminal's place: first start, front, aircraft, people, keep, help."""

from __future__ import annotations

import time

import pytest

from capture.observed import Hearing, Transcript, Word
from desk import asking
from desk.opening import Opened
from desk.settings import load
from desk.web.serve import make_desk
from record import media
from record.store import Store
from tests.desk.page.conftest import PORT, WHO, client_of, sound


def enter(desk):
    """A client that came in, and sends the token with every change."""
    made = client_of(desk)
    made.get(f"/open/{desk.doors.invite('desk')}")
    made.headers["x-cowlnote-token"] = desk.doors.token(made.cookies[desk.doors.cookie])
    return made


@pytest.fixture
def fresh(tmp_path):
    """A desk on a home in which nothing is, not even a profile."""
    from extract.values.catalogue import load as load_catalogue

    home = tmp_path / "new"
    settings = load(home, {"COWLNOTE_MODELS": str(tmp_path / "none")})
    desk = make_desk(Opened(settings, load_catalogue(), Store.open(home)), port=PORT)
    yield desk, enter(desk), home
    desk.store.close()


def ended(client, name):
    """How a task ended."""
    for _ in range(600):
        told = client.get(f"/task/{name}").json()
        if not told["going"]:
            return told
        time.sleep(0.05)
    raise AssertionError(told)


# first start


def test_a_home_without_a_profile_begins_with_the_questions(fresh):
    _, client, home = fresh
    page = client.get("/", follow_redirects=True)
    assert page.url.path == "/begin"
    for one in asking.questions():
        assert f'name="{one.key}"' in page.text
        assert one.where.split(",")[0] in page.text.replace("&#39;", "'")
    assert not (home / "aircraft.toml").exists()
    assert client.get("/?later=1").status_code == 200


def test_answers_make_the_profile_that_the_desk_then_goes_by(fresh):
    desk, client, home = fresh
    answers = {
        "registration": "N0417Q",
        "zone": "America/Chicago",
        "units": "metric: litres, N·m, bar, °C",
        "paper.country": "DE",
        "filter_torque": "22 25",
        "interval_hours": "50",
    }
    wrong = client.post("/begin", json={**answers, "sump_capacity": "eight", "zone": "Mars"})
    assert wrong.status_code == 422
    assert set(wrong.json()["wrong"]) == {"sump_capacity", "zone"}
    assert not (home / "aircraft.toml").exists()
    assert client.post("/begin", json=answers).json() == {"to": "/"}
    made = load(home, {}).profile
    assert (made.registration, made.zone.key, made.paper.country) == (
        "N0417Q",
        "America/Chicago",
        "DE",
    )
    assert (made.units.own("qt"), made.interval_hours) == ("L", 50)
    assert desk.settings.profile.registration == "N0417Q"
    assert "N0417Q" in client.get("/").text


def test_a_second_aircraft_gets_a_file_of_its_own(fresh):
    _, client, home = fresh
    client.post("/begin", json={"registration": "N0417Q"})
    answer = client.post("/begin", json={"registration": "N0655X"})
    assert answer.json() == {"to": "/aircraft?aircraft=N0655X"}
    assert (home / "aircraft" / "N0655X.toml").is_file()
    assert "N0655X" in client.get("/aircraft?aircraft=N0655X").text
    assert client.post("/begin", json={"registration": "N0655X"}).status_code == 400


def test_the_front_page_says_which_models_are_missing_and_how_much_that_is(fresh):
    _, client, _ = fresh
    client.post("/begin", json={"registration": "N0417Q"})
    page = client.get("/").text
    assert 'data-begin="/models/fetch"' in page
    assert "211 MB to fetch, once" in page  # 147.9 of base and 63.6 of moonshine
    assert "tiny.en" not in page  # an extra one, which nothing is heard with


# front


def test_the_front_page_tells_what_waits_and_that_there_is_no_backup(client, filled):
    page = client.get("/").text
    assert f"{filled.waiting} values" in page
    assert "2 of them doubtful" in page
    assert "there is no backup yet" in page


def test_an_oil_sample_without_a_report_is_awaited(client, filled):
    body = {"name": "sample_taken", "value": "yes", "by": WHO, "position": ""}
    assert client.post(f"/job/{filled.job}/add", json=body).status_code == 200
    assert "sample of" in client.get("/").text
    report = {"lab": "Lab (invented)", "date": "2026-03-14", "Fe": "20", "by": WHO}
    assert client.post("/oil/add", json=report).status_code == 200
    assert "sample of" not in client.get("/").text


# aircraft


def test_a_changed_line_of_the_profile_is_written_under_a_name(client, filled):
    home = filled.desk.settings.home
    asked = {"sump_capacity": "8", "because": "from the manual"}
    assert client.post("/aircraft", json=asked).status_code == 409  # nobody's name
    assert client.post("/aircraft", json={**asked, "by": WHO}).status_code == 200
    assert load(home, {}).profile.sump_capacity == 8
    assert filled.desk.settings.profile.sump_capacity == 8
    assert 'value="8"' in client.get("/aircraft").text
    page = client.get("/aircraft").text
    assert f"sump_capacity: not said → 8, {WHO}: from the manual" in page
    same = client.post("/aircraft", json={**asked, "by": WHO})
    assert "nothing was written" in same.json()["words"]


def test_what_recurs_and_a_reference_are_added(client, filled):
    home = filled.desk.settings.home
    battery = {"what": 'ELT "main" battery', "until_date": "2029-06-30", "by": WHO}
    assert client.post("/aircraft/recurring", json=battery).status_code == 200
    bulletin = {"text": "Bulletin 12-3 (invented)", "date": "2025-03-10", "by": WHO}
    assert client.post("/aircraft/reference", json=bulletin).status_code == 200
    made = load(home, {}).profile
    assert [one.what for one in made.recurring] == ['ELT "main" battery']
    assert [one.text for one in made.references] == ["Bulletin 12-3 (invented)"]
    before = (home / "aircraft.toml").read_bytes()
    wrong = client.post("/aircraft/recurring", json={**battery, "hours": "soon"})
    assert wrong.status_code == 400
    assert (home / "aircraft.toml").read_bytes() == before


def test_a_meter_that_was_changed_is_stated(client, filled):
    said = {
        "which": "the tach",
        "old": "2400.0",
        "new": "0.0",
        "on": "2026-04-01",
        "because": "failed",
    }
    assert client.post("/aircraft/meter", json={**said, "by": ""}).status_code == 409
    told = client.post("/aircraft/meter", json={**said, "by": WHO}).json()["words"]
    assert "hours are counted on" in told
    assert client.post("/aircraft/meter", json={**said, "by": WHO, "on": "x"}).status_code == 400


# people


def test_a_name_said_once_can_be_chosen_after(client, filled):
    card = {"name": "Ada Invented", "role": "mechanic", "certificate": "0000000"}
    assert client.post("/people", json=card).status_code == 200
    assert client.post("/people", json={**card, "role": "wizard"}).status_code == 400
    assert client.post("/people", json={"name": " "}).status_code == 409
    assert '<option value="Ada Invented">' in client.get("/record").text
    text = (filled.desk.settings.home / "people.toml").read_text("utf-8")
    assert text.count("Ada Invented") == 1
    client.post("/people", json={**card, "role": ""})
    assert "mechanic" not in (filled.desk.settings.home / "people.toml").read_text("utf-8")


def test_a_persons_decisions_are_listed_with_their_drafts(client, filled):
    body = {"name": "oil_added", "value": "6", "by": WHO, "position": ""}
    client.post(f"/job/{filled.job}/add", json=body)
    page = client.get(f"/people?name={WHO.replace(' ', '+')}").text
    assert f"job {filled.job}" in page
    assert "page 1 of" not in page


# words


def test_a_pair_of_words_is_learned_by_a_yes_and_a_value_never(client, filled):
    home = filled.desk.settings.home
    assert client.post("/words", json={"heard": "tacks", "meant": "tach"}).status_code == 200
    assert ("tacks", "tach") in load(home, {}).profile.heard
    assert "learned" in client.get("/words").text
    assert client.post("/words", json={"heard": "sixteen", "meant": "sixty"}).status_code == 400
    assert client.post("/words", json={"heard": "tacks", "meant": "torque"}).status_code == 400


# oil


def test_a_report_is_typed_corrected_and_taken_from_a_file(client):
    report = {"lab": "Lab (invented)", "date": "2026-03-14", "hours": "48.2", "Fe": "20", "by": WHO}
    told = client.post("/oil/add", json=report).json()["words"]
    assert "report 1" in told
    assert client.post("/oil/add", json={**report, "by": ""}).status_code == 409
    assert client.post("/oil/add", json={**report, "Fe": "lots"}).status_code == 400
    right = {**report, "Fe": "22", "id": "1", "because": "misread"}
    assert "report 2" in client.post("/oil/correct", json=right).json()["words"]
    csv = b"lab,date,Fe,Cu\nLab (invented),2026-05-01,21,6\n"
    address = f"?name=r.csv&by={WHO}"
    assert "Fe=21" in client.post(f"/oil/look{address}", content=csv).json()["words"]
    assert "report 3" in client.post(f"/oil/file{address}", content=csv).json()["words"]
    assert client.post(f"/oil/file{address}", content=b"\xff\x00").status_code == 400
    page = client.get("/oil").text
    assert "2026-05-01" in page


# papers


@pytest.mark.parametrize(
    ("paper", "words"),
    [("checklist", "never said"), ("slip", "OIL SAMPLE SLIP"), ("sums", "SUMS, job")],
)
def test_a_paper_of_a_job_stands_on_a_page_of_its_own(client, filled, paper, words):
    page = client.get(f"/job/{filled.job}/{paper}")
    assert page.status_code == 200
    assert words in page.text


def test_a_torque_is_given_in_three_units(client):
    """17 ft-lb is 204 in-lb (12 in to the foot) and 23.05 N·m (SP 811, appendix B.8)."""
    page = client.get("/torque?wanted=17&unit=ft-lb").text
    assert "17 ft-lb = 204 in-lb = 23.05 N·m" in page
    assert "units" not in client.get("/torque?wanted=17&unit=stone").text.split("<form")[0]
    assert client.get("/torque?wanted=x").status_code == 200


# keep


def test_a_backup_is_planned_made_and_told_of_on_the_front_page(client, filled, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    assert client.post("/keep/backup", json={}).status_code == 400  # no folder is named
    plan = {"folder": str(stick), "days": "7", "kept": "3"}
    assert client.post("/keep/plan", json=plan).status_code == 200
    client.post("/keep/backup", json={})
    told = ended(client, "backup")
    assert (told["failed"], "read back" in told["lines"][0]) == (False, True)
    assert "last good: today" in client.get("/").text


def test_check_and_export_run_in_the_background_and_say_how_they_ended(client, filled, tmp_path):
    client.post("/keep/check", json={})
    assert "0 problems" in ended(client, "check")["lines"][0]
    out = tmp_path / "out"
    client.post("/keep/export", json={"folder": str(out), "position": "no"})
    assert ended(client, "export")["failed"] is False
    assert (out / "bagit.txt").is_file()
    look = client.post("/keep/look", json={"folder": str(out)}).json()["words"]
    assert "N0417Q; 1 jobs" in look
    assert "holds a record already" in look
    assert client.post("/keep/import", json={"folder": str(out)}).status_code in (400, 409)
    assert client.post("/keep/look", json={"folder": str(tmp_path)}).status_code >= 400


def test_an_export_that_damage_refused_can_be_made_without_what_is_damaged(
    client, filled, tmp_path
):
    desk, out = filled.desk, tmp_path / "out"
    with desk.store.session() as session:
        path = desk.vault.path(media.get(session, 1).sha256)
    path.chmod(0o644)
    path.write_bytes(bytes(path.stat().st_size))
    client.post("/keep/export", json={"folder": str(out)})
    told = ended(client, "export")
    assert (told["failed"], told["damaged"], out.exists()) == (True, ["memo_00.wav"], False)
    assert "not what was kept: memo_00.wav; nothing was exported" in told["words"]
    client.post("/keep/export", json={"folder": str(out), "damaged": "leave"})
    told = ended(client, "export")
    assert (told["failed"], told["damaged"]) == (False, [])
    assert told["lines"][0].endswith("2 of 3 originals and 0 links of the record, 1 left out")
    assert told["lines"][1] == "memo_00.wav: not what was kept, so not in the export"
    assert (out / "bagit.txt").is_file()


def test_an_export_is_looked_at_and_taken_into_an_empty_home(client, filled, fresh, tmp_path):
    out = tmp_path / "out"
    client.post("/keep/export", json={"folder": str(out)})
    ended(client, "export")
    desk, other, _ = fresh
    assert "can be taken in" in other.post("/keep/look", json={"folder": str(out)}).json()["words"]
    assert "proved" in other.post("/keep/import", json={"folder": str(out)}).json()["words"]
    assert desk.settings.profile.registration == "N0417Q"
    assert f"{filled.waiting} values" in other.get("/").text


# help


def test_every_sentence_of_the_help_gives_a_value_and_records_nothing(client, filled):
    from desk.web.help import _data

    for way in _data()["say"]:
        if way["about"].startswith("The time"):
            continue  # it puts a clock right, and is no value
        for sentence in way["tries"]:
            drafts = client.post("/help/try", json={"text": sentence}).json()["drafts"]
            assert drafts, sentence
    page = client.get(f"/job/{filled.job}").text
    assert page.count("<article") == filled.waiting


class Stand:
    """An ear that hears one invented sentence, whatever sounds."""

    def hear(self, samples, media, progress=None):
        words = ["torqued", "the", "filter", "to", "seventeen", "foot", "pounds"]
        made = tuple(Word(w, i * 0.3, i * 0.3 + 0.2, 0.95) for i, w in enumerate(words))
        return Transcript(media, 3.0, (Hearing("made", "", made),), ((0.0, 3.0),))


def test_what_is_talked_on_the_help_page_is_heard_and_not_kept(client, filled, tmp_path):
    filled.desk.ear = Stand()
    before = [kept.sha256 for kept in filled.desk.vault.kept()]
    memo = sound(tmp_path / "talk.wav", 3.0).read_bytes()
    told = client.post("/help/hear?name=talk.wav", content=memo).json()
    assert [(d["label"], d["shown"]) for d in told["drafts"]] == [("filter torque", "17 ft-lb")]
    assert [kept.sha256 for kept in filled.desk.vault.kept()] == before
    assert client.post("/help/hear?name=talk.wav", content=b"RIFF").status_code == 400


def test_a_phone_reaches_none_of_these_pages(filled):
    made = client_of(filled.desk)
    made.get(f"/open/{filled.desk.doors.invite('phone')}")
    for path in ("/aircraft", "/people", "/words", "/keep", "/help", "/begin", "/torque"):
        assert made.get(path).status_code == 404
    token = filled.desk.doors.token(made.cookies[filled.desk.doors.cookie])
    headers = {"x-cowlnote-token": token}
    assert made.post("/keep/backup", json={}, headers=headers).status_code == 404
