"""The other make of ear: its decoder against the model's own graph, its times, its token table."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from capture import engine
from capture.audio import RATE
from capture.errors import ModelMissingError
from capture.moonshine import FRAME_S, Moonshine, texts, times
from capture.moonshine_decoder import BEGIN, END, Decoder, Said
from capture.moonshine_weights import Tensors

MODELS = Path(__file__).parents[2] / "models"
needs_model = pytest.mark.skipif(
    not (MODELS / "moonshine").is_dir(), reason="no moonshine; run `cowlnote models get`"
)
TWO = {"v_proj": 2.0, "dense": 0.5}  # of an attention: what undoes itself
FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")


def test_a_token_table_is_bytes_with_their_length_before_them() -> None:
    long = ("▁" + "a" * 197).encode()  # 200 bytes: the length takes two, the low seven bits first
    raw = bytes([4]) + "▁t".encode() + bytes([2]) + b"er" + bytes([200 - 128 + 128, 1]) + long
    assert texts(raw) == [" t", "er", " " + "a" * 197]


@given(
    hnp.arrays(
        np.float32,
        st.tuples(st.integers(1, 12), st.integers(1, 40)),
        elements=st.floats(0, 1, width=32),
    )
)
def test_times_are_in_order_and_within_the_sound(looks: np.ndarray) -> None:
    edges = times(looks)
    assert len(edges) == looks.shape[0] + 1
    assert all(a <= b for a, b in pairwise(edges))
    assert edges[0] == 0.0
    assert edges[-1] == pytest.approx(looks.shape[1] * FRAME_S)


def test_each_token_is_put_where_it_looks() -> None:
    looks = np.zeros((3, 30), np.float32)
    looks[0, 3:8] = looks[1, 12:14] = looks[2, 20:28] = 1.0
    edges = times(looks)
    assert 8 * FRAME_S - 1e-6 <= edges[1] <= 12 * FRAME_S + 1e-6
    assert 14 * FRAME_S - 1e-6 <= edges[2] <= 20 * FRAME_S + 1e-6


@pytest.mark.parametrize("broken", FILES)
def test_a_broken_file_is_one_line(tmp_path: Path, broken: str) -> None:
    for name in FILES:
        (tmp_path / name).write_bytes(b"\x05\x00no model at all" if name == broken else b"")
    with pytest.raises(ModelMissingError, match="cannot be loaded") as caught:
        engine.load(tmp_path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("tokens", "likely", "words"),
    [
        ((0, 1), -0.2, ["two", "six"]),  # as digits of real people came out
        ((0, 1), -0.7, []),  # as noise came out
        ((1,), -0.2, []),  # noise again: one word, now and then a likely one
    ],
)
def test_a_text_that_ended_before_its_first_word_is_asked_for_once_more(
    tokens: tuple[int, ...], likely: float, words: list[str]
) -> None:
    class Decodes:
        def decode(self, frames: np.ndarray, limit: int, least: int = 0) -> Said:
            some = tokens if least else ()
            where = np.ones((len(some), 8, 8, len(frames)), np.float32)
            return Said(some, (likely,) * len(some), where, True)

    class Encodes:
        def run(self, *_: object) -> list[np.ndarray]:
            return [np.zeros((1, 40, 416), np.float32)]

    ear = Moonshine.__new__(Moonshine)
    ear._texts, ear._encoder, ear._decoder = [" two", " six"], Encodes(), Decodes()
    heard = ear.hear(np.zeros(RATE, np.float32))
    assert ([] if heard.invented else [text for text, *_ in heard.words]) == words


@pytest.mark.slow
@needs_model
@pytest.mark.parametrize("name", ["moonshine", "moonshine-hangar"])
def test_noise_is_no_word(name: str) -> None:
    ear = engine.load(MODELS / name)
    for level in (0.003, 0.03, 0.2):
        noise = np.random.default_rng(5).normal(0, level, 4 * RATE).astype(np.float32)
        heard = ear.hear(noise)
        assert heard.invented or not heard.words


@pytest.mark.slow
@needs_model
def test_the_decoder_says_what_the_models_own_graph_says() -> None:
    """Against onnxruntime on the graph in the file, token by token, its logits included."""
    import onnxruntime

    folder = MODELS / "moonshine"
    graph = onnxruntime.InferenceSession(str(folder / "decoder_model_merged.ort"))
    names = [i.name for i in graph.get_inputs() if i.name.startswith("past")]
    past = {name: np.zeros((0, 8, 1, 52), np.float32) for name in names}
    frames = np.random.default_rng(4).normal(size=(90, 416)).astype(np.float32)
    said = Decoder(folder / "decoder_model_merged.ort", list(range(32768))).decode(frames, 8)
    token, tokens, likely = BEGIN, [], []
    for at in range(8):
        given = {
            "input_ids": np.array([[token]]),
            "encoder_hidden_states": frames[None],
            "use_cache_branch": np.array([at > 0]),
        }
        logits, *present = graph.run(None, given | past)
        for name, value in zip(names, present, strict=True):
            if at == 0 or ".decoder." in name:
                past[name] = value
        row = logits[0, -1]
        row[BEGIN] = -np.inf
        token = int(row.argmax())
        if token == END:
            break
        tokens.append(token)
        likely.append(float(row[token] - row.max() - np.log(np.exp(row - row.max()).sum())))
    assert tokens
    assert said.tokens == tuple(tokens)
    assert said.likely == pytest.approx(likely, abs=1e-3)


@pytest.mark.slow
@needs_model
@pytest.mark.parametrize("name", ["moonshine", "moonshine-hangar"])
def test_what_it_writes_on_noise_is_told_as_made_up(name: str) -> None:
    ear = engine.load(MODELS / name)
    rng = np.random.default_rng(7)
    for level in (0.0, 0.01, 0.1, 0.3):
        for seconds in (0.2, 3, 12):
            noise = rng.normal(size=int(seconds * RATE)).astype(np.float32) * level
            heard = ear.hear(noise)
            assert heard.invented or not heard.words, (level, seconds, heard)


def scaled(factors: dict[str, float], into: Path) -> Path:
    """Write an adapter, of full rank, that makes weights of the model so many times as large."""
    made: dict[str, np.ndarray] = {}
    for file in FILES[:2]:
        held = Tensors(MODELS / "moonshine" / file)
        for use in held.uses.keys() & factors.keys():
            weight = held.used(use)
            made[f"{use}.A"] = np.eye(len(weight), dtype=np.float16)
            made[f"{use}.B"] = ((factors[use] - 1) * weight.T).astype(np.float16)
    path = into / "adapter.npz"
    np.savez(path, about="{}", **made)
    return path


@pytest.mark.slow
@needs_model
def test_what_was_learnt_is_laid_onto_both_halves(tmp_path: Path) -> None:
    """Attention stays what it is when its values are doubled and what takes them in is halved.

    That holds for any such network, so it tells whether each factor got to its own weight, whole
    and the right way round, without a second computation of the network.
    """
    for name in FILES:
        (tmp_path / name).symlink_to(MODELS / "moonshine" / name)
    rng = np.random.default_rng(11)
    piece = (rng.normal(0, 0.1, 2 * RATE) * np.sin(np.arange(2 * RATE) / 900)).astype(np.float32)
    limit = 6

    def frames_and_tokens(factors: dict[str, float]) -> tuple[np.ndarray, Said]:
        scaled(factors, tmp_path)
        ear = Moonshine(tmp_path)
        (frames,) = ear._encoder.run(None, {"input_values": piece[None]})[0]
        return frames, ear._decoder.decode(frames, limit, least=limit)

    at = ("layers.3/self_attn", "model/decoder/layers.5/encoder_attn")
    plain, said = frames_and_tokens({})
    same, again = frames_and_tokens({f"{a}/{p}": f for a in at for p, f in TWO.items()})
    assert same == pytest.approx(plain, abs=0.02 * float(np.abs(plain).max()))
    assert again.tokens == said.tokens
    assert again.likely == pytest.approx(said.likely, abs=0.02)
    other, _ = frames_and_tokens({f"{at[0]}/v_proj": 2.0})
    assert np.abs(other - plain).max() > 0.1 * np.abs(plain).max()
    _, elsewhere = frames_and_tokens({f"{at[1]}/v_proj": 3.0})
    assert elsewhere.likely != pytest.approx(said.likely, abs=0.02)
