"""Bad news as data, what resolves it, and what closing a job lists.

Which values are adverse is common practice (in the catalogue, with its sources); half a sump is
14 CFR 33.39(a), 60 of 80 is AC 43.13-1B 8-14: a loss of more than 25 %, so 60 is not over it.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from extract.values.adverse import cautions
from extract.values.known import NOTHING, Known
from record import adverse, closing, correct, entries, jobs, queue
from record.errors import RefusedError
from record.service import service
from tests.record.conftest import BEGAN, WHO, draft

EIGHT = Known(sump_capacity=Decimal(8), filter_torque=(Decimal(16), Decimal(18)))
OTHER = "Udo Unreal"


@pytest.mark.parametrize(
    ("name", "value", "stands", "word"),
    [
        ("drain_closed", False, True, "drain not closed"),
        ("old_gasket_removed", False, True, "old gasket not removed"),
        ("oil_cap_tight", False, True, "oil cap not tight"),
        ("tools_counted", False, True, "tools not all accounted for"),
        ("filter_safetied", False, True, "filter not safetied"),
        ("cowling_installed", False, True, "cowling not on"),
        ("old_gasket_removed", False, True, "gasket"),
        ("oil_cap_tight", False, True, "oil cap"),
        ("tools_counted", False, True, "tools not all"),
        ("metal_found", "pieces", True, "metal in the filter"),
        ("metal_found", "flakes", True, "metal in the filter"),
        ("metal_found", "fine", False, "fine metal"),
        ("metal_magnetic", True, False, "magnetic"),
        ("leak_check", "fail", True, "leak"),
        ("oil_level", Decimal("3.5"), True, "oil low"),
        ("oil_level", Decimal("3.9"), True, "oil low"),
        ("oil_level", Decimal("8.1"), True, "overfilled"),
        ("oil_level_before", Decimal("3.5"), False, "came in low"),
        ("filter_torque", Decimal("18.1"), False, "torque"),
        ("cylinder_compression", Decimal("59"), True, "low compression"),
    ],
)
def test_bad_news_is_found_with_its_word_and_a_caution(catalogue, name, value, stands, word):
    found = catalogue.fields[name].finding(value, EIGHT)
    assert found is not None
    assert found.stands is stands
    assert word in found.word
    assert found.caution in cautions().values()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("drain_closed", True),
        ("old_gasket_removed", True),
        ("oil_cap_tight", True),
        ("tools_counted", True),
        ("gasket_oiled", False),
        ("filter_safetied", True),
        ("cowling_installed", True),
        ("metal_found", "none"),
        ("metal_magnetic", False),
        ("leak_check", "pass"),
        ("oil_level", Decimal(4)),
        ("oil_level", Decimal(8)),
        ("filter_torque", Decimal(16)),
        ("cylinder_compression", Decimal(60)),
        ("sample_taken", False),
    ],
)
def test_good_news_is_not_found(catalogue, name, value):
    assert catalogue.fields[name].finding(value, EIGHT) is None


def test_a_level_is_not_judged_where_the_sump_is_not_known(catalogue):
    assert catalogue.fields["oil_level"].finding(Decimal("3.5"), NOTHING) is None


def test_every_caution_names_its_source():
    assert all(c.text and c.source and c.status in ("seen", "memory") for c in cautions().values())


def said(name, value, minutes=0, **other):
    given = {"unit": None, "said_at": BEGAN + timedelta(minutes=minutes), **other}
    return draft(name, value, **given)


def confirm(session, job, one, who=WHO):
    """Confirm a draft, in the place of what stands there, as a person does who saw that."""
    stands = [e.id for e in entries.entries(session, job)]
    numbers = queue.put(session, job, [one])
    queue.confirm(session, numbers, who, because="ran it again", replaces=stands)
    return numbers


def job_with(session, *drafts):
    job = jobs.job_for(session, BEGAN, new=True, kind="oil-and-filter")
    for one in drafts:
        confirm(session, job, one)
    return job


def standing(session, job, catalogue):
    found = service(session, job, catalogue)
    return [(b.name, b.value) for b in adverse.entered(found, catalogue, EIGHT) if b.stands]


def test_a_later_value_of_the_same_field_resolves_it_and_both_stay(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail"))
        assert standing(session, job, catalogue) == [("leak_check", "fail")]
        confirm(session, job, said("leak_check", "pass", 20), OTHER)
        assert standing(session, job, catalogue) == []
        found = service(session, job, catalogue)
        before = adverse.before(found, found.entry("leak_check"), catalogue)
    assert [(old.value, old.by, bad.word) for old, bad in before] == [
        ("fail", WHO, "a leak was found")
    ]


def test_another_field_resolves_nothing(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail"), said("cowling_installed", True, 5))
        assert standing(session, job, catalogue) == [("leak_check", "fail")]


def test_a_good_value_that_was_said_before_the_bad_one_resolves_nothing(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail", 20), said("leak_check", "pass", 0))
        assert standing(session, job, catalogue) == [("leak_check", "fail")]


def test_what_a_person_types_counts_when_it_is_typed(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail", 20), said("leak_check", "pass", 0))
        old = service(session, job, catalogue).entry("leak_check")
        correct.correct(session, old.id, "pass", OTHER, "ran it again, no leaks", catalogue)
        assert standing(session, job, catalogue) == []


def test_an_undone_confirmation_leaves_no_trace_of_bad_news(store, catalogue):
    with store.session() as session:
        job = job_with(session)
        (id,) = queue.put(session, job, [said("leak_check", "fail")])
        queue.confirm(session, [id], WHO)
        queue.undo(session, id, WHO)
        queue.amend(session, id, "pass", WHO, "misheard", catalogue)
        found = service(session, job, catalogue)
        assert standing(session, job, catalogue) == []
        assert adverse.before(found, found.entry("leak_check"), catalogue) == []


def test_an_undone_resolution_opens_it_again(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail"))
        (id,) = confirm(session, job, said("leak_check", "pass", 20))
        queue.undo(session, id, WHO)
        assert standing(session, job, catalogue) == [("leak_check", "fail")]


def test_a_withdrawn_adverse_value_is_told_with_its_reason(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail"))
        old = service(session, job, catalogue).entry("leak_check")
        correct.withdraw(session, old.id, OTHER, "said of the twin")
        told = adverse.withdrawn(service(session, job, catalogue), catalogue)
    assert [(e.value, why) for e, _, why in told] == [("fail", "said of the twin")]


def test_closing_lists_adverse_missing_and_waiting_and_keeps_them_with_the_reason(store, catalogue):
    with store.session() as session:
        job = job_with(session, said("leak_check", "fail"))
        queue.put(session, job, [said("cowling_installed", False)])
    with (
        pytest.raises(RefusedError, match="1 adverse, 13 missing, 1 waiting"),
        store.session() as session,
    ):
        closing.close(session, job, WHO, catalogue=catalogue)
    with store.session() as session:
        left = closing.close(session, job, WHO, "the shop takes it over", catalogue=catalogue)
        closed = entries.decisions(session, job)[-1]
    assert (closed.action, closed.because) == ("close", "the shop takes it over")
    assert closed.doubts == left.lines
    assert "adverse: a leak was found (leak check: fail)" in closed.doubts
    assert "missing: oil added" in closed.doubts
    assert any(line.startswith("waiting: cowling installed no") for line in closed.doubts)
    assert not any(line == "missing: cowling installed" for line in closed.doubts)


def test_closing_is_refused_where_it_is_not_what_was_shown(store, catalogue):
    with store.session() as session:
        job = job_with(session)
        shown = closing.left(service(session, job, catalogue), catalogue).lines
        queue.add(session, job, "leak_check", "fail", OTHER, catalogue=catalogue)
    with pytest.raises(RefusedError, match="not as it was shown"), store.session() as session:
        closing.close(session, job, WHO, "x", catalogue=catalogue, seen=shown)


def test_a_whole_job_closes_without_a_reason(store, catalogue):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN, new=True, kind="free")
        queue.add(session, job, "service_date", "2026-03-14", WHO, catalogue=catalogue)
        assert closing.close(session, job, WHO, catalogue=catalogue).lines == ()
        assert not jobs.get(session, job).is_open
