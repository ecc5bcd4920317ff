"""An adapter laid onto a speech model's weights.

The layout of `model.bin` is checked against CTranslate2's own writer, and the sums against exact
rational arithmetic from the standard library.
"""

from __future__ import annotations

import hashlib
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from ctranslate2.specs import model_spec

from capture import adapter
from capture.errors import ModelMissingError


class _Layer(model_spec.LayerSpec):
    def __init__(self) -> None:
        self.weight = None
        self.bias = None


class _Spec(model_spec.LanguageModelSpec):
    """A model of one layer, written by CTranslate2 itself."""

    def __init__(self) -> None:
        super().__init__()
        self.layer = _Layer()

    @property
    def name(self) -> str:
        return "WhisperSpec"

    @property
    def revision(self) -> int:
        return 3

    def get_default_config(self) -> model_spec.ModelConfig:
        return model_spec.ModelConfig()

    def get_vocabulary_size(self) -> int:
        return 3


@pytest.fixture
def base(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    spec = _Spec()
    spec.layer.weight = rng.normal(0, 0.3, (24, 40)).astype(np.float16)
    spec.layer.bias = rng.normal(0, 0.3, 24).astype(np.float16)
    spec.register_vocabulary(["a", "b", "c"])
    spec.validate()
    spec.save(str(tmp_path))
    return tmp_path / "model.bin"


def _factors(rank: int = 8, size: float = 0.05) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    a = rng.normal(0, size, (rank, 40)).astype(np.float16)
    return a, rng.normal(0, size, (24, rank)).astype(np.float16)


def _adapter(folder: Path, base: Path, name: str = "layer/weight", **change: object) -> Path:
    a, b = _factors()
    said = {"base_sha256": hashlib.sha256(base.read_bytes()).hexdigest()}
    held = {f"{name}.A": a, f"{name}.B": b, "about": json.dumps(said), **change}
    np.savez(folder / "adapter.npz", **held)
    return folder / "adapter.npz"


def _array(path: Path, name: str) -> np.ndarray:
    raw = path.read_bytes()
    entry = next(e for e in adapter.entries(raw) if e.name == name)
    count = int(np.prod(entry.shape))
    return np.frombuffer(raw, "<f2", count, entry.at).reshape(entry.shape)


def test_arrays_are_found_where_ctranslate2_wrote_them(base: Path) -> None:
    found = {e.name: e.shape for e in adapter.entries(base.read_bytes())}
    assert found == {"layer/weight": (24, 40), "layer/bias": (24,)}


def test_each_weight_is_the_exact_sum_rounded_once(base: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.bin"
    adapter.merge(base, _adapter(tmp_path, base), new)
    a, b = _factors()
    old, got = _array(base, "layer/weight"), _array(new, "layer/weight")
    for i, j in [(0, 0), (23, 39), (7, 11), (12, 3)]:
        exact = Fraction(float(old[i, j])) + sum(
            Fraction(float(b[i, k])) * Fraction(float(a[k, j])) for k in range(8)
        )
        off = abs(Fraction(float(got[i, j])) - exact)
        for beside in (
            np.nextafter(got[i, j], np.float16(9)),
            np.nextafter(got[i, j], np.float16(-9)),
        ):
            assert off <= abs(Fraction(float(beside)) - exact)
    assert np.any(old != got)


def test_the_order_of_the_sum_does_not_change_a_bit(base: Path, tmp_path: Path) -> None:
    a, b = _factors()
    order = np.random.default_rng(3).permutation(8)
    first = adapter.merge(base, _adapter(tmp_path, base), tmp_path / "1.bin")
    turned = {"layer/weight.A": a[order], "layer/weight.B": b[:, order]}
    assert adapter.merge(base, _adapter(tmp_path, base, **turned), tmp_path / "2.bin") == first


def test_nothing_but_the_named_weights_changes(base: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.bin"
    said = adapter.merge(base, _adapter(tmp_path, base), new)
    assert said == hashlib.sha256(new.read_bytes()).hexdigest()
    old_raw, new_raw = base.read_bytes(), new.read_bytes()
    weight = next(e for e in adapter.entries(old_raw) if e.name == "layer/weight")
    assert old_raw[: weight.at] == new_raw[: weight.at]
    assert old_raw[weight.at + weight.size :] == new_raw[weight.at + weight.size :]


def test_an_adapter_for_other_weights_is_refused_and_nothing_is_written(
    base: Path, tmp_path: Path
) -> None:
    made = _adapter(tmp_path, base, about=json.dumps({"base_sha256": "0" * 64}))
    with pytest.raises(ModelMissingError, match="not the model that the adapter was made for"):
        adapter.merge(base, made, tmp_path / "new.bin")
    assert not (tmp_path / "new.bin").exists()


@pytest.mark.parametrize("name", ["layer/bias", "layer/other"])
def test_an_adapter_that_does_not_fit_is_refused(base: Path, tmp_path: Path, name: str) -> None:
    with pytest.raises(ModelMissingError, match=f"does not fit {name}"):
        adapter.merge(base, _adapter(tmp_path, base, name), tmp_path / "new.bin")


def test_factors_too_large_for_exact_sums_are_refused(base: Path, tmp_path: Path) -> None:
    a, b = _factors(size=2.0)
    made = _adapter(tmp_path, base, **{"layer/weight.A": a, "layer/weight.B": b})
    with pytest.raises(ModelMissingError, match="does not fit"):
        adapter.merge(base, made, tmp_path / "new.bin")


@pytest.mark.parametrize("cut", [0, 3, 40, 700])
def test_a_broken_model_or_adapter_is_named_in_one_line(
    base: Path, tmp_path: Path, cut: int
) -> None:
    raw = base.read_bytes()[:cut]
    with pytest.raises(ModelMissingError):
        list(adapter.entries(raw, "model.bin"))
    broken = tmp_path / "broken.npz"
    broken.write_bytes(_adapter(tmp_path, base).read_bytes()[:cut])
    with pytest.raises(ModelMissingError, match="cannot be read"):
        adapter.merge(base, broken, tmp_path / "new.bin")
