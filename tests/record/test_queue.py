from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from capture.errors import InputError
from extract.values.draft import KEYS, Alternative, Evidence
from record import chain, correct, entries, jobs, queue, service
from record.errors import DoubtedError, RefusedError, ReplacesError, StaleError
from record.store import Store
from tests.record.conftest import BEGAN, WHO, draft


def put(store: Store, *drafts, job=None):
    with store.session() as session:
        job = jobs.job_for(session, BEGAN, job=job)
        return job, queue.put(session, job, drafts)


def test_a_draft_comes_back_from_its_row_with_nothing_lost(store):
    given = draft(
        value="16.50",
        position=3,
        doubts=("outside the limit",),
        alternatives=(
            Alternative(Decimal("17.5"), 0.2, "other hearing"),
            Alternative("-227A", 0.1),
            Alternative(date(2026, 3, 14), 0.05, "corrected away"),
            Alternative(True, 0.01),
        ),
        quad=((1.0, 2.0), (3.5, 2.0), (3.5, 4.0), (1.0, 4.0)),
        also=(
            Evidence("photo.jpg", "16.5", quad=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))),
            Evidence("memo_02.wav", "sixteen and a half", 1.0, 2.0, BEGAN),
        ),
    )
    put(store, given)
    with store.session() as session:
        (found,) = queue.drafts(session)
    assert found.draft == given
    assert str(found.draft.value) == "16.50"


def test_listing_gives_the_catalogue_keys_and_id_job_state(store):
    job, (number,) = put(store, draft())
    with store.session() as session:
        made = queue.drafts(session)[0].to_json()
    assert tuple(made) == (*KEYS, "id", "job", "state")
    assert (made["id"], made["job"], made["state"]) == (number, job, "waiting")


def test_the_same_drafts_again_are_not_doubled(store):
    given = [draft(), draft("oil_added", "7.25", unit="qt", start=20.0, end=22.0)]
    job, first = put(store, *given)
    _, again = put(store, *given, job=job)
    assert first == again
    with store.session() as session:
        assert len(queue.drafts(session)) == 2


def test_a_new_reading_of_a_waiting_draft_takes_its_place(store):
    job, first = put(store, draft(value="70"))
    _, again = put(store, draft(value="17", start=12.5), job=job)
    assert first == again
    with store.session() as session:
        assert [q.draft.value for q in queue.drafts(session)] == [Decimal(17)]


def test_a_draft_of_another_memo_does_not_push_out_one_that_waits(store):
    job, _ = put(store, draft(value="17"))
    put(store, draft(value="18", media="memo_02.wav"), job=job)
    with store.session() as session:
        assert sorted(q.draft.value for q in queue.drafts(session)) == [17, 18]


def test_a_fused_draft_takes_the_place_of_those_it_was_fused_from(store):
    job, _ = put(store, draft(value="17"))
    fused = draft(value="18", media="memo_02.wav", also=(Evidence("memo_01.wav", "17"),))
    put(store, fused, job=job)
    with store.session() as session:
        assert [q.draft.value for q in queue.drafts(session)] == [18]


def test_a_decided_draft_is_never_touched_by_a_second_intake(store):
    job, (number,) = put(store, draft())
    with store.session() as session:
        queue.confirm(session, [number], WHO)
    _, again = put(store, replace(draft(), confidence=0.5, heard="other"), job=job)
    assert again == [number]
    with store.session() as session:
        (found,) = queue.drafts(session)
    assert (found.state, found.draft) == ("confirmed", draft())


def test_a_differing_reading_of_a_decided_draft_waits_beside_it_with_a_doubt(store):
    job, (number,) = put(store, draft(value="17"))
    with store.session() as session:
        queue.confirm(session, [number], WHO)
    _, (new,) = put(store, draft(value="70"), job=job)
    assert new != number
    with store.session() as session:
        (found,) = queue.waiting(session)
    assert found.draft.doubts == (f"already entered as 17 ft-lb by {WHO}",)
    _, again = put(store, draft(value="70"), job=job)
    assert again == [new]


def test_what_was_amended_does_not_come_back_as_heard(store):
    job, (number,) = put(store, draft(value="70"))
    with store.session() as session:
        queue.amend(session, number, "17", WHO, "misheard")
    assert put(store, draft(value="70"), job=job)[1] == [number]
    assert put(store, draft(value="17"), job=job)[1] == [number]


def test_doubts_come_first_then_the_order_of_speaking(store):
    put(
        store,
        draft("oil_added", "7", start=30.0, said_at=BEGAN.replace(minute=40)),
        draft("oil_drained", "5", start=10.0, said_at=BEGAN),
        draft("tach_time", "2345.6", start=50.0, said_at=BEGAN.replace(minute=50), doubts=("low",)),
    )
    with store.session() as session:
        names = [q.draft.name for q in queue.drafts(session)]
    assert names == ["tach_time", "oil_drained", "oil_added"]


def test_confirming_enters_the_value_with_who_when_and_from_what(store):
    _, (number,) = put(store, draft(doubts=("outside the limit",)))
    with store.session() as session:
        (entry,) = queue.confirm(session, [number], f"  {WHO} ")
        (decision,) = entries.decisions(session)
    assert (entry.value, entry.by, entry.heard) == (17, WHO, draft().heard)
    assert (entry.media, entry.start, entry.said_at) == ("memo_01.wav", 12.4, draft().said_at)
    assert (decision.action, decision.by, decision.draft) == ("confirm", WHO, number)
    assert decision.doubts == ("outside the limit",)
    assert entry.decision == decision.id
    assert decision.at.utcoffset() is not None


@pytest.mark.parametrize("name", ["", "  ", None, "12", "--"])
def test_no_name_no_decision(store, name):
    _, (number,) = put(store, draft())
    for decide in (
        lambda s: queue.confirm(s, [number], name),
        lambda s: queue.amend(s, number, "17", name, "misheard"),
        lambda s: queue.reject(s, number, name, "not said"),
        lambda s: queue.add(s, 1, "oil_added", "7", name),
        lambda s: jobs.close(s, 1, name),
    ):
        with pytest.raises(RefusedError, match="name"), store.session() as session:
            decide(session)
    with store.session() as session:
        assert queue.get(session, number).state == "waiting"
        assert entries.decisions(session) == []


def test_amending_and_rejecting_need_a_reason(store):
    _, (number,) = put(store, draft())
    for decide in (
        lambda s: queue.amend(s, number, "17", WHO, " "),
        lambda s: queue.reject(s, number, WHO, ""),
    ):
        with pytest.raises(RefusedError, match="reason"), store.session() as session:
            decide(session)


def test_a_draft_is_decided_once(store):
    _, (number,) = put(store, draft())
    with store.session() as session:
        queue.reject(session, number, WHO, "not said")
    with pytest.raises(RefusedError, match="already rejected by Ines"), store.session() as session:
        queue.confirm(session, [number], WHO)


def test_confirming_several_is_all_or_none(store):
    _, numbers = put(store, draft(), draft("oil_added", "7", start=30.0))
    with pytest.raises(RefusedError, match="no draft 99"), store.session() as session:
        queue.confirm(session, [*numbers, 99], WHO)
    with store.session() as session:
        assert entries.entries(session) == []
        assert len(queue.waiting(session)) == 2


def test_amending_enters_what_was_typed_and_keeps_what_was_heard(store):
    _, (number,) = put(store, draft(value="70"))
    with store.session() as session:
        entry = queue.amend(session, number, "17", WHO, "misheard")
        found = queue.get(session, number)
    assert entry.value == Decimal(17)
    assert (found.state, found.draft.value) == ("amended", Decimal(70))
    assert found.decision is not None
    assert found.decision.because == "misheard"


def test_typed_text_that_is_no_value_changes_nothing(store):
    _, (number,) = put(store, draft())
    with pytest.raises(InputError), store.session() as session:
        queue.amend(session, number, "about seventeen-ish", WHO, "misheard")
    with store.session() as session:
        assert queue.get(session, number).state == "waiting"


def test_a_typed_value_that_is_hardly_possible_needs_a_reason_which_is_kept(store):
    _, (number,) = put(store, draft())
    with (
        pytest.raises(DoubtedError, match="hardly possible for filter torque") as told,
        store.session() as session,
    ):
        queue.amend(session, number, "1700", WHO, "typed")
    assert told.value.value == "1700 ft-lb"
    with store.session() as session:
        assert queue.get(session, number).state == "waiting"
        entry = queue.amend(session, number, "1700", WHO, "typed", although="a big wrench")
        decision = entries.decisions(session)[-1]
    assert entry.value == 1700
    assert "hardly possible for filter torque" in decision.doubts[0]
    assert decision.although == "a big wrench"


def test_a_value_typed_by_hand_is_entered_as_typed(store):
    job, _ = put(store)
    with store.session() as session:
        entry = queue.add(session, job, "cylinder_compression", "74", WHO, position="3")
        found = queue.get(session, 1)
    assert (entry.value, entry.position, entry.unit) == (74, 3, "psi")
    assert (found.state, found.draft.heard) == ("confirmed", "typed: 74")


@pytest.mark.parametrize(
    ("name", "position"),
    [("no_such_field", None), ("filter_torque", 3), ("cylinder_compression", None)],
)
def test_typing_needs_a_field_and_a_position_that_exist(store, name, position):
    job, _ = put(store)
    with pytest.raises(InputError), store.session() as session:
        queue.add(session, job, name, "17", WHO, position=position)


def test_a_second_value_of_a_slot_replaces_the_first_and_both_stay_visible(store):
    job, (one, other) = put(store, draft(value="17"), draft(value="18", media="memo_02.wav"))
    with store.session() as session:
        (first,) = queue.confirm(session, [one], WHO)
    for told in ({}, {"because": "read again"}, {"replaces": [first.id]}):
        with (
            pytest.raises(ReplacesError, match=r"17 ft-lb by Ines Invented from memo_01\.wav"),
            store.session() as session,
        ):
            queue.confirm(session, [other], WHO, **told)
    with store.session() as session:
        told = {"because": "read again", "replaces": [first.id]}
        (second,) = queue.confirm(session, [other], WHO, **told)
        every = entries.entries(session, job, every=True)
        counting = entries.entries(session, job)
    assert second.supersedes == first.id
    assert [e.value for e in every] == [17, 18]
    assert [e.value for e in counting] == [18]


def test_a_closed_job_takes_no_draft_and_no_decision_but_a_correction(store):
    job, (number,) = put(store, draft(value="70"))
    with store.session() as session:
        (entry,) = queue.confirm(session, [number], WHO)
        jobs.close(session, job, WHO)
    with pytest.raises(RefusedError, match="closed by Ines"):
        put(store, draft(value="18"), job=job)
    with pytest.raises(RefusedError, match="closed by Ines"), store.session() as session:
        queue.add(session, job, "oil_added", "7", "Bo Invented")
    with store.session() as session:
        later = correct.correct(session, entry.id, "17", "Bo Invented", "the dial was misread")
        assert later.supersedes == entry.id
        assert [e.value for e in entries.entries(session, job)] == [17]
        assert chain.prove(session) is None
    with pytest.raises(RefusedError, match="already replaced"), store.session() as session:
        correct.correct(session, entry.id, "18", WHO, "again")


def test_an_entry_taken_back_stays_visible_and_no_longer_counts(store):
    job, (number,) = put(store, draft())
    with store.session() as session:
        (entry,) = queue.confirm(session, [number], WHO)
        correct.withdraw(session, entry.id, WHO, "of another aircraft")
        assert entries.entries(session, job) == []
        assert [e.value for e in entries.entries(session, job, every=True)] == [17, None]


def test_a_job_with_waiting_drafts_is_not_closed(store):
    job, _ = put(store, draft())
    with pytest.raises(RefusedError, match="1 draft that nobody has decided"), store.session() as s:
        jobs.close(s, job, WHO)


def test_undo_withdraws_the_entry_and_the_draft_waits_again(store):
    job, (number,) = put(store, draft())
    with store.session() as session:
        queue.confirm(session, [number], WHO)
        back = queue.undo(session, number, WHO)
        assert (back.state, back.decision) == ("waiting", None)
        assert entries.entries(session, job) == []
        queue.amend(session, number, "16.5", WHO, "misheard")
        assert [e.value for e in entries.entries(session, job)] == [Decimal("16.5")]
        acts = [d.action for d in entries.decisions(session, job)]
        assert acts == ["confirm", "undo", "amend"]
        assert chain.prove(session) is None


def test_undo_is_refused_where_nothing_is_decided_or_the_job_is_closed(store):
    job, (number,) = put(store, draft())
    with store.session() as session, pytest.raises(RefusedError, match="not decided"):
        queue.undo(session, number, WHO)
    with store.session() as session:
        queue.confirm(session, [number], WHO)
        jobs.close(session, job, WHO)
    with store.session() as session, pytest.raises(RefusedError, match="closed"):
        queue.undo(session, number, WHO)


def test_undo_lets_the_value_count_again_that_was_replaced(store):
    job, numbers = put(store, draft(value="17"), draft(value="18", media="memo_02.wav"))
    with store.session() as session:
        (first,) = queue.confirm(session, numbers[:1], WHO)
        before = entries.entries(session, job)
        told = {"because": "read again", "replaces": [first.id]}
        queue.confirm(session, numbers[1:], "Bo Invented", **told)
        with pytest.raises(RefusedError, match="replaced since by Bo Invented"):
            queue.undo(session, numbers[0], WHO)
        queue.undo(session, numbers[1], "Bo Invented")
        assert entries.entries(session, job) == before  # who, when, from what: all as it was
        assert service.service(session, job).replaced == ()
        assert chain.prove(session) is None


def test_the_undo_of_what_was_typed_leaves_no_draft_that_waits(store):
    job, (number,) = put(store, draft("tach_time", "1981.4", unit="h"))
    with store.session() as session:
        (first,) = queue.confirm(session, [number], WHO)
        before = entries.entries(session, job)
        told = {"because": "misread", "replaces": [first.id]}
        queue.add(session, job, "tach_time", "1999", WHO, **told)
        (typed,) = [q for q in queue.drafts(session, job) if q.id != number]
        assert queue.undo(session, typed.id, WHO).state == "retracted"
        assert queue.waiting(session) == []
        assert entries.entries(session, job) == before
        assert chain.prove(session) is None
        with pytest.raises(RefusedError, match="taken back already"):
            queue.undo(session, typed.id, WHO)
        with pytest.raises(RefusedError, match="already retracted"):
            queue.confirm(session, [typed.id], WHO)


def test_a_decision_that_names_another_value_than_stands_is_refused(store):
    job, (number,) = put(store, draft(value="17"))
    with store.session() as session:
        seen = queue.get(session, number).seen()
    put(store, draft(value="18", start=12.5), job=job)  # a second reading of the same recording
    for act in (
        lambda s: queue.confirm(s, [number], WHO, seen={number: seen}),
        lambda s: queue.amend(s, number, "17.5", WHO, "misheard", seen=seen),
        lambda s: queue.reject(s, number, WHO, "not said", seen=seen),
    ):
        with (
            pytest.raises(StaleError, match="shown as 17 ft-lb and is 18 ft-lb now"),
            store.session() as session,
        ):
            act(session)
    with store.session() as session:
        now = queue.get(session, number)
        assert now.number == f"{number}b"
        queue.confirm(session, [number], WHO, seen={number: now.seen()})
        (decision,) = entries.decisions(session)
        assert json.loads(decision.shown)["value"] == "18 ft-lb"
        undone = now.seen()
        with pytest.raises(StaleError, match="has changed"):
            queue.undo(session, number, WHO, seen=undone)


def test_a_doubt_that_came_up_since_is_shown_before_anything_is_entered(store):
    """Two services taken in at once: the second was drafted before the first was confirmed."""
    _, (later,) = put(store, draft("tach_time", "2345.6", unit="h"))
    with store.session() as session:
        seen = queue.get(session, later).seen()
        job = jobs.job_for(session, BEGAN - timedelta(days=30), new=True)
        queue.add(session, job, "service_date", "2026-02-12", WHO)
        queue.add(session, job, "tach_time", "2445.6", WHO)
        with pytest.raises(StaleError, match=r"lower than the last known 2445\.6 h"):
            queue.confirm(session, [later], WHO, seen={later: seen})


def test_a_value_never_stated_is_added_to_a_closed_job_as_a_late_entry(store):
    job, (number,) = put(store, draft(value="17"))
    with store.session() as session:
        queue.confirm(session, [number], WHO)
        jobs.close(session, job, WHO)
    with store.session() as session:
        queue.add(session, job, "oil_added", "7", "Bo Invented", because="found the note")
        decision = entries.decisions(session)[-1]
        assert (decision.action, decision.because) == ("late", "found the note")
        with pytest.raises(RefusedError, match="entered already as 7 qt"):
            queue.add(session, job, "oil_added", "6", "Bo Invented", because="no")
        with pytest.raises(RefusedError, match="closed"):
            queue.undo(session, 2, WHO)
        assert chain.prove(session) is None


def test_a_later_memo_that_agrees_does_not_ask_again(store):
    job, (number,) = put(store, draft(value="17"))
    with store.session() as session:
        queue.confirm(session, [number], WHO)
    agreed = draft(value="17.0", media="memo_02.wav", also=(Evidence("memo_01.wav", "17"),))
    assert put(store, agreed, job=job)[1] == [number]


def test_the_same_figure_said_of_another_moment_is_asked(store):
    job, (number,) = put(store, draft("oil_added", "1", unit="qt"))
    with store.session() as session:
        queue.confirm(session, [number], WHO)
    _, (new,) = put(store, draft("oil_added", "1", unit="qt", media="memo_09.wav"), job=job)
    with store.session() as session:
        (found,) = queue.waiting(session)
    assert (found.id, found.draft.doubts) == (new, (f"already entered as 1 qt by {WHO}",))


def test_of_two_people_at_once_one_decides_and_the_other_is_told(any_store):
    _, (number,) = put(any_store, draft())

    def decide(who):
        try:
            with any_store.session() as session:
                queue.confirm(session, [number], who)
        except RefusedError as error:
            return str(error)
        return "done"

    with ThreadPoolExecutor(4) as people:
        said = sorted(people.map(decide, ["Ines", "Bo", "Ada", "Kim"]))
    assert [s.startswith("draft 1 was already confirmed by") for s in said].count(True) == 3
    assert said.count("done") == 1
    with any_store.session() as session:
        assert chain.prove(session) is None


def test_two_intakes_at_once_queue_a_draft_once(any_store):
    job, _ = put(any_store)
    given = [draft(position=n) for n in range(1, 7)]
    with ThreadPoolExecutor(4) as programs:
        list(programs.map(lambda _: put(any_store, *given, job=job), range(4)))
    with any_store.session() as session:
        assert len(queue.drafts(session)) == 6


def test_another_memo_that_tells_the_same_is_kept_as_a_witness(store):
    job, first = put(store, draft(value="17"))
    second = draft(value="17", media="memo_02.wav", start=3.0, end=4.0, confidence=0.99)
    assert put(store, second, job=job)[1] == first
    assert put(store, second, job=job)[1] == first
    with store.session() as session:
        (found,) = queue.waiting(session)
    given = draft(value="17")
    assert found.draft.media == "memo_02.wav"
    assert found.draft.also == (
        Evidence(given.media, given.heard, given.start, given.end, given.said_at),
    )
