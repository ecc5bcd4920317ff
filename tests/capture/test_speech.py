"""Where somebody speaks, in a telephone's band too: 300 to 3400 Hz, 8 bits of ITU-T G.711."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from capture import speech
from capture.audio import RATE, as_float, decode
from capture.speech import find_speech, is_narrow

DEMO = Path(__file__).parents[2] / "demo_media"
BAND_HZ, MU = (300.0, 3400.0), 255.0
MEMOS = ["hangar-03.m4a", "hangar-06.m4a"]


def telephone(samples: np.ndarray) -> np.ndarray:
    """Give samples as a telephone carries them: without what lies beside its band, companded."""
    low, high = BAND_HZ
    power = np.fft.rfft(as_float(samples))
    hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
    power[(hertz < low) | (hertz > high)] = 0
    sound = np.fft.irfft(power, len(samples))[::2]  # 8 kHz
    sound /= np.abs(sound).max()
    steps = np.round(np.sign(sound) * np.log1p(MU * np.abs(sound)) / np.log1p(MU) * 127)
    heard = np.sign(steps) * ((1 + MU) ** (np.abs(steps) / 127) - 1) / MU
    wide = np.fft.irfft(np.fft.rfft(heard), 2 * len(heard)) * 2
    return np.asarray(np.clip(wide * 20000, -32767, 32767), np.int16)


@pytest.mark.parametrize("memo", MEMOS)
def test_a_telephone_is_told_by_its_band(memo: str) -> None:
    samples = decode(DEMO / memo)
    assert not is_narrow(samples)
    assert is_narrow(telephone(samples))
    assert not is_narrow(np.zeros(RATE, np.int16))


def test_the_finder_is_asked_for_less_in_the_band_of_a_telephone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    narrow = telephone(decode(DEMO / MEMOS[0]))
    found = sum(end - start for start, end in find_speech(narrow))
    monkeypatch.setattr(speech, "NARROW", speech.THRESHOLD)
    monkeypatch.setattr(speech, "NARROW_END", speech.THRESHOLD - 0.15)
    assert found > sum(end - start for start, end in find_speech(narrow))


def test_noise_in_that_band_is_no_speech() -> None:
    hiss = np.random.default_rng(417).normal(0, 2000, 60 * RATE).astype(np.int16)
    assert list(find_speech(telephone(hiss))) == []
