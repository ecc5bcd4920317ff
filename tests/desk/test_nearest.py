"""A finding has the photo taken nearest to its words beside it, and no photo of another time."""

from __future__ import annotations

from datetime import timedelta

import pytest

from capture.observed import Instant, PhotoText
from desk.drafting import with_photo
from tests.desk.conftest import MORNING


def photo(name: str, seconds: float) -> PhotoText:
    taken = Instant(MORNING + timedelta(seconds=seconds), "exif")
    return PhotoText(name, (400, 300), "other", (), "made", taken)


@pytest.mark.parametrize(
    ("taken", "media"),
    [
        ({"a.jpg": -40, "b.jpg": 12, "c.jpg": 300}, ["b.jpg"]),
        ({"a.jpg": -89}, ["a.jpg"]),
        ({"a.jpg": 91}, []),
        ({}, []),
    ],
)
def test_the_nearest_photo_stands_beside_a_finding(draft, taken, media):
    found = draft("defect", "open: cracked stud", said_at=MORNING)
    made = with_photo(found, [photo(name, at) for name, at in taken.items()])
    assert [e.media for e in made.also] == media
    assert made.value == found.value


def test_a_value_that_is_no_finding_gets_no_photo(draft):
    plain = draft("oil_added", "7", "qt", said_at=MORNING)
    assert with_photo(plain, [photo("a.jpg", 1)]) == plain
