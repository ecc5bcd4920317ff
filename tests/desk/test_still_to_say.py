"""What is still to say, by the kind of job; which fields a kind calls for is the catalogue's."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from desk.readback import spoken, still
from extract.values.known import NOTHING
from record import jobs

FILTERED = replace(NOTHING, filter_torque=(Decimal(16), Decimal(18)))


@pytest.fixture
def session(store):
    with store.session() as opened:
        yield opened


@pytest.mark.parametrize(
    ("names", "known", "kind"),
    [
        (set(), NOTHING, ""),
        ({"tach_time"}, NOTHING, ""),
        ({"drain_closed"}, NOTHING, "oil-only"),
        ({"drain_closed"}, FILTERED, "oil-and-filter"),
        ({"drain_closed", "filter_torque"}, NOTHING, "oil-and-filter"),
        ({"plug_gap"}, FILTERED, "spark-plugs"),
    ],
)
def test_the_kind_is_what_was_said_and_a_filter_in_the_profile_counts(
    session, catalogue, names, known, kind
):
    assert still.kind(session, None, names, catalogue, known) == kind


def test_a_kind_that_a_person_said_holds(session, catalogue):
    job = jobs.job_for(session, None, kind="oil-only")
    assert still.kind(session, job, {"filter_torque"}, catalogue, FILTERED) == "oil-only"


def test_what_must_never_be_left_comes_first_and_what_was_said_is_gone(catalogue):
    left = still.unsaid("oil-and-filter", {"leak_check", "oil_added"}, catalogue)
    names = [one.field for one in left]
    must = [n for n in spoken.words()["still"]["must"] if n != "leak_check"]
    assert names[: len(must)] == must
    assert all(one.must for one in left[: len(must)])
    assert not any(one.must for one in left[len(must) :])
    required = set(catalogue.jobs["oil-and-filter"].required) - {"service_date"}
    assert set(names) == (required | {"tools_counted"}) - {"leak_check", "oil_added"}


def test_every_kind_can_be_all_said(catalogue):
    for kind, job in catalogue.jobs.items():
        left = still.unsaid(kind, {*job.required, *job.usual}, catalogue)
        assert left == []
        assert still.all_said(kind, left, [], 0)
        if len(job.required) > 1:
            assert not still.all_said(kind, still.unsaid(kind, set(), catalogue), [], 0)


def test_nothing_is_all_said_while_no_kind_is_known_or_something_stands(catalogue):
    news = still.News("Leak check failed", "Leak check failed.", "Find it.")
    assert not still.all_said("", [], [], 0)
    assert not still.all_said("oil-and-filter", [], [news], 0)
    assert not still.all_said("oil-and-filter", [], [], 1)


def test_every_must_is_a_field_of_the_catalogue(catalogue):
    rules = spoken.words()["still"]
    assert {*rules["must"], *rules["unasked"]} <= set(catalogue.fields)
    for rule in rules["rather"]:
        assert {rule["told"], rule["take"]} <= set(catalogue.jobs)
        assert all(hasattr(NOTHING, name) for name in rule["where"])
