from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from capture import tape
from capture.errors import InputError
from capture.tape import Tape, blocks


@pytest.fixture
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tape, "ROLL", 1000)


@pytest.mark.usefixtures("_short")
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.integers(0, 900), max_size=8), st.integers(1, 700))
def test_what_is_put_on_a_tape_is_what_is_read(lengths: list[int], size: int) -> None:
    parts = [np.arange(n, dtype=np.int16) * 7 - n for n in lengths]
    made = Tape()
    for part in parts:
        made.extend(part.tobytes())
    want = np.concatenate([np.zeros(0, np.int16), *parts])
    samples = made.samples()
    assert np.array_equal(samples, want)
    read = [block.copy() for _first, block in blocks(samples, size)]
    assert np.array_equal(np.concatenate([np.zeros(0, np.int16), *read]), want)
    assert np.array_equal(samples, want)  # what was let go of can be read again


@pytest.mark.usefixtures("_short")
def test_a_full_disk_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def write(self, _data: bytes) -> None:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(tape.tempfile, "TemporaryFile", Full)
    with pytest.raises(InputError, match="no room") as caught:
        Tape().extend(b"\0" * 1001)
    assert "\n" not in str(caught.value)


FOUR_HOURS = """
import resource, sys
import numpy as np
from capture import transcribe
from capture.audio import RATE
from capture.engine import Heard
from capture.tape import Tape

class Says:
    def hear(self, piece, tail_s=None, words=()):
        return Heard((("so", 0.1, 0.4, 0.9),))

import faster_whisper.vad as vad
vad.get_speech_timestamps = lambda block, options: [
    {"start": at * RATE, "end": (at + 9) * RATE} for at in range(0, len(block) // RATE - 10, 60)
]
peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
minute = np.random.default_rng(1).integers(-9, 9, 60 * RATE, np.int16).tobytes()

def heard(minutes):
    tape = Tape()
    for _ in range(minutes):
        tape.extend(minute)
    from pathlib import Path
    ear = transcribe.Ear(Path("."), models=("a",), stash=Path(sys.argv[1]))
    ear.check = lambda: None
    ear._engines["a"] = Says()
    return ear.hear(tape.samples(), "long.m4a")

heard(15)
before = peak()
assert len(heard(240).hearings[0].words) >= 240
print(peak() - before)
"""


def test_four_hours_take_no_more_memory_than_a_quarter_of_one(tmp_path: Path) -> None:
    """In a process of its own, all but the models: 460 MB of samples, never in memory at once."""
    ran = subprocess.run(
        [sys.executable, "-c", FOUR_HOURS, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert float(ran.stdout) < 60
