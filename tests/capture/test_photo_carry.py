"""What number drums show. The convention: the digit that has not yet been replaced."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.photo_carry import carry


def seen(*phases: float, blur: float = 0.08) -> list[np.ndarray]:
    """Likelihoods of drums that stand at these phases, as a fair reader would give them."""
    bins = np.arange(100) / 10
    drums = []
    for phase in phases:
        away = (bins - phase + 5) % 10 - 5
        like = np.exp(-0.5 * (away / blur) ** 2)
        drums.append(like / like.sum())
    return drums


def best(*phases: float) -> int:
    chances, _ = carry(seen(*phases))
    return max(chances, key=lambda value: chances[value])


def test_drums_at_rest_show_their_digits() -> None:
    assert best(0, 8, 5, 8, 3, 4) == 85834


def test_a_cascade_shows_the_number_before_it_until_it_is_done() -> None:
    assert best(2, 3.5, 9.5, 9.5, 9.5) == 23999
    assert best(2, 4, 0, 0, 0) == 24000


def test_a_worn_drum_that_leans_is_still_read() -> None:
    assert best(0.2, 8.1, 5.2, 7.85, 3, 4.5) == 85834  # the 8 leans back by 0.15


def test_a_last_drum_between_two_digits_says_so() -> None:
    chances, turned = carry(seen(3, 0, 9, 3, 5.6))
    value = max(chances, key=lambda v: chances[v])
    assert value == 30935
    assert 0.4 <= turned[value] <= 0.7


def test_a_drum_just_arrived_is_not_the_one_before() -> None:
    assert best(1, 2, 3, 4, 7.0) == 12347
    assert best(1, 2, 3, 4, 7.95) == 12348


def test_the_chances_of_all_numbers_sum_to_one() -> None:
    chances, _ = carry(seen(1.4, 2.6, 3.3, 9.9))
    assert sum(chances.values()) == pytest.approx(1.0)


def test_many_drums_that_lean_alike_are_turning_together() -> None:
    assert best(2, 4.78, 9.78, 9.78, 9.78, 9.78) == 249999
    assert best(2, 5, 0, 0, 0, 0) == 250000


def test_a_lean_that_nine_tenths_of_a_turn_would_show_too_is_left_open() -> None:
    chances, _ = carry(seen(3.1, 1.9, 9.9))
    assert chances[319] > 0.2
    assert chances[320] > 0.2


@settings(max_examples=60, deadline=None)
@given(
    value=st.one_of(
        st.integers(0, 999_999),
        st.integers(1, 999).map(lambda head: head * 1000 - 1),  # many nines: a long cascade
    ),
    part=st.one_of(st.just(0.0), st.floats(0.2, 0.8)),
    wobble=st.lists(st.floats(-0.1, 0.1), min_size=6, max_size=6),
)
def test_any_number_is_read_back_however_far_it_has_turned(
    value: int, part: float, wobble: list[float]
) -> None:
    # an odometer's own arithmetic: a drum moves while all to its right stand between 9 and 0
    digits = [value // 10**place % 10 for place in range(6)]  # rightmost first
    phases, turning = [], part
    wobble[0] *= 0.5  # a tenth back is just what nine tenths of the digit before look like
    for digit, lean in zip(digits, wobble, strict=True):
        phases.append(digit + turning + lean * (0.5 if turning else 1))
        turning = turning if digit == 9 else 0.0
    assert best(*reversed(phases)) == value
