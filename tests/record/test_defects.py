"""Defects over jobs: numbers that stay, states that change with who and why, nothing lost."""

from __future__ import annotations

from datetime import timedelta

import pytest

from capture.errors import InputError
from extract.values.defects import finding_of
from extract.values.known import NOTHING
from record import adverse, arrange, chain, checks, correct, defects, entries, jobs, queue
from record.errors import RefusedError
from record.service import service
from tests.record.conftest import BEGAN, WHO, draft

OTHER = "Udo Unreal"


def said(words, state="open", start=0.0, name="defect"):
    value = finding_of(words, None if name == "remark" else state)
    at = BEGAN + timedelta(seconds=start)
    given = {"unit": None, "start": start, "end": start + 3, "said_at": at, "heard": words}
    return draft(name, value, **given)


@pytest.fixture
def job(store):
    with store.session() as session:
        return jobs.job_for(session, BEGAN, new=True, kind="oil-and-filter", aircraft="N0417Q")


def numbers(session, job):
    return {q.draft.value: q.draft.position for q in queue.drafts(session, job)}


def test_each_finding_has_its_number_and_keeps_it_when_drafted_anew(store, job):
    stud, bulb = said("cracked stud", start=1), said("changed the bulb", start=9, name="remark")
    hose = said("chafed hose", start=5)
    with store.session() as session:
        first = queue.put(session, job, [stud, bulb])
        again = queue.put(session, job, [stud, hose, bulb])
        assert [again[0], again[2]] == first
        assert numbers(session, job) == {
            "open: cracked stud": 1,
            "changed the bulb": 2,
            "open: chafed hose": 3,
        }


def test_a_remark_read_anew_as_a_defect_takes_its_own_place(store, job):
    with store.session() as session:
        (one,) = queue.put(session, job, [said("cracked stud", start=1, name="remark")])
        (two,) = queue.put(session, job, [said("cracked stud", start=1)])
        assert one == two
        assert [q.draft.name for q in queue.drafts(session, job)] == ["defect"]


def test_no_finding_takes_the_place_of_another(store, job, catalogue):
    with store.session() as session:
        ids = queue.put(session, job, [said("cracked stud", start=1), said("old hose", start=5)])
        queue.confirm(session, ids, WHO)
        queue.add(session, job, "defect", "nose strut low", WHO, catalogue=catalogue)
        found = service(session, job, catalogue)
        assert [e.value for e in found.entries.values()] == [
            "open: cracked stud",
            "open: old hose",
            "open: nose strut low",
        ]
        assert found.replaced == ()
        with pytest.raises(InputError, match="no positions"):
            queue.add(session, job, "defect", "another", WHO, 1, catalogue)


def confirmed(session, job, *drafts):
    queue.confirm(session, queue.put(session, job, list(drafts)), WHO)


def test_a_later_job_clears_a_defect_and_the_first_record_stays(store, job, catalogue):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        jobs.close(session, job, WHO, because="trial")
        later = jobs.job_for(session, BEGAN + timedelta(days=40), new=True, aircraft="N0417Q")
        entry = defects.settle(session, f"{job}.1", "cleared", OTHER, "fitted a new stud")
        assert (entry.job, entry.value, entry.by) == (later, "cleared: cracked stud", OTHER)
        assert defects.not_cleared(session) == []
        (defect,) = defects.defects(session, "N0417Q")
        assert [e.value for e in defect.every] == ["open: cracked stud", "cleared: cracked stud"]
        first = service(session, job, catalogue)
        assert first.entry("defect", 1).value == "open: cracked stud"
        assert first.became(first.entry("defect", 1)).job == later
        assert adverse.entered(first, catalogue) == []
        assert chain.prove(session) is None


def test_a_state_that_changes_in_the_same_job_keeps_what_it_was(store, job, catalogue):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        defects.settle(session, f"{job}.1", "deferred", OTHER, "not due yet", until="the annual")
        found = service(session, job, catalogue)
        assert found.entry("defect", 1).value == "deferred until the annual: cracked stud"
        assert [e.value for e in found.replaced] == ["open: cracked stud"]
        assert [b.stands for b in adverse.entered(found, catalogue)] == [False]


def test_a_clearing_that_is_withdrawn_leaves_the_defect_as_it_was(store, job, catalogue):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        cleared = defects.settle(session, f"{job}.1", "cleared", OTHER, "new stud")
        correct.withdraw(session, cleared.id, OTHER, "it was the other one")
        (defect,) = defects.not_cleared(session)
        assert (defect.state, defect.now.value) == ("open", "open: cracked stud")


def test_a_withdrawn_finding_is_no_defect_any_more(store, job):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        (entry,) = entries.entries(session, job)
        correct.withdraw(session, entry.id, OTHER, "said of the twin")
        assert defects.defects(session) == []


def test_a_defect_of_a_job_set_aside_is_not_counted(store, job):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        arrange.aside(session, job, WHO, "a trial")
        assert defects.defects(session) == []


@pytest.mark.parametrize(
    ("ref", "state", "by", "why", "error"),
    [
        ("1.9", "cleared", WHO, "x", RefusedError),
        ("1", "cleared", WHO, "x", InputError),
        ("1.1", "mended", WHO, "x", InputError),
        ("1.1", "open", WHO, "x", RefusedError),
        ("1.1", "cleared", "", "x", RefusedError),
        ("1.1", "cleared", WHO, "", RefusedError),
    ],
)
def test_what_cannot_become_of_a_defect_is_refused(store, job, ref, state, by, why, error):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
    with pytest.raises(error), store.session() as session:
        defects.settle(session, ref, state, by, why)
    with store.session() as session:
        assert [d.state for d in defects.defects(session)] == ["open"]


def test_without_an_open_job_it_says_what_to_do(store, job):
    with store.session() as session:
        confirmed(session, job, said("cracked stud"))
        jobs.close(session, job, WHO, because="trial")
    with pytest.raises(RefusedError, match="--in new"), store.session() as session:
        defects.settle(session, f"{job}.1", "cleared", OTHER, "new stud")


def test_a_finding_like_an_earlier_defect_is_doubted_and_names_it(store, job, catalogue):
    with store.session() as session:
        confirmed(session, job, said("found a cracked exhaust stud"))
        later = jobs.job_for(session, BEGAN + timedelta(days=40), new=True, aircraft="N0417Q")
        new = said("replaced the cracked exhaust stud", "cleared")
        (made,) = checks.add_doubts(session, [new], NOTHING, job=later, aircraft="N0417Q")
        assert any(f"{job}.1" in doubt for doubt in made.doubts)
        assert made.value == new.value
        (other,) = checks.add_doubts(session, [said("chafed brake hose")], NOTHING, job=later)
        assert other.doubts == ()


def test_a_job_of_an_earlier_day_cannot_clear_it(store, catalogue):
    with store.session() as session:
        one = jobs.job_for(session, None, new=True, kind="free")
        queue.add(session, one, "service_date", "2026-03-14", WHO, catalogue=catalogue)
        queue.add(session, one, "defect", "cracked stud", WHO, catalogue=catalogue)
        other = jobs.job_for(session, None, new=True, kind="free")
        queue.add(session, other, "service_date", "2026-03-13", WHO, catalogue=catalogue)
    with pytest.raises(RefusedError, match="2026-03-13"), store.session() as session:
        defects.settle(session, f"{one}.1", "cleared", OTHER, "new stud", job=other)
