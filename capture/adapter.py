"""Lay a small low-rank adapter onto a speech model's weights, with numpy alone.

A speech model is a CTranslate2 folder; its `model.bin` holds named arrays in half precision. An
adapter is an `.npz` with, for each weight W of shape (out, in) that it changes, `W.A` of shape
(rank, in) and `W.B` of shape (out, rank), both float16, and `about`, a JSON text with at least
`base_sha256`, the hash of the `model.bin` that it was trained on. The new weight is W + B·A.

The result is the same to the bit on every machine: products of float16 numbers are multiples of
2^-48, so while rank x largest A x largest B stays below 32 (checked), every sum of them fits the 53
bits of a float64 and is exact in any order; only one rounding, to float16, follows.

The layout of `model.bin` (version 6) is CTranslate2's own: `ModelSpec._serialize` in its
`python/ctranslate2/specs/model_spec.py`.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

from capture.errors import ModelMissingError

BESIDE = "adapter.npz"
"""Its name in the folder of a model that lays it on when it is loaded (`capture.moonshine`)."""
GET, AGAIN = "run `cowlnote models get`", "get it from the project again"
_VERSION, _HALF = 6, 4  # of the layout; CTranslate2's number for float16
_LARGEST_SUM = 32.0  # below it the sums are exact


@dataclass(frozen=True, slots=True)
class Entry:
    """Where one array lies in `model.bin`: its shape, CTranslate2's type number, its bytes."""

    name: str
    shape: tuple[int, ...]
    kind: int
    at: int
    size: int


def entries(raw: bytes | bytearray, where: Path | str = "model.bin") -> Iterator[Entry]:
    """Give every array of a `model.bin`, in file order. Raises ModelMissingError if it is none."""
    at = 0

    def take(form: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from("<" + form, raw, at)
        at += struct.calcsize("<" + form)
        return int(value)

    def text() -> str:
        nonlocal at
        length = take("H")
        at += length
        return bytes(raw[at - length : at - 1]).decode("utf-8")

    try:
        if (version := take("I")) != _VERSION:
            raise ModelMissingError(f"model layout {version} is not known", where, GET)
        text(), take("I")  # the kind of model, its revision
        for _ in range(take("I")):
            name = text()
            shape = tuple(take("I") for _ in range(take("B")))
            kind, size = take("B"), take("I")
            if at + size > len(raw):
                raise ModelMissingError("the model ends too early", where, GET)
            yield Entry(name, shape, kind, at, size)
            at += size
    except (struct.error, UnicodeDecodeError) as error:
        raise ModelMissingError("this is no speech model", where, GET) from error


def about(adapter: Path) -> dict[str, Any]:
    """Give what an adapter says of itself: `base_sha256`, and what its maker wrote down."""
    try:
        with np.load(adapter, allow_pickle=False) as held:
            found: dict[str, Any] = json.loads(str(held["about"]))
        found["base_sha256"]
    except (OSError, EOFError, ValueError, KeyError, BadZipFile) as error:
        raise ModelMissingError("this adapter cannot be read", adapter, AGAIN) from error
    return found


def merged(raw: bytes, adapter: Path, where: Path | str = "model.bin") -> bytearray:
    """Give the bytes of `model.bin` with the adapter laid on. `raw` stays as it is.

    Raises ModelMissingError where the adapter was made for other weights or does not fit them.
    """
    if hashlib.sha256(raw).hexdigest() != about(adapter)["base_sha256"]:
        raise ModelMissingError("this is not the model that the adapter was made for", where, GET)
    made = bytearray(raw)
    known = {entry.name: entry for entry in entries(raw, where)}
    with np.load(adapter, allow_pickle=False) as held:
        for name in sorted(key[:-2] for key in held.files if key.endswith(".A")):
            a, b = held[f"{name}.A"], held[f"{name}.B"]
            entry = known.get(name)
            fits = (
                entry is not None
                and entry.kind == _HALF
                and a.dtype == b.dtype == np.float16
                and a.shape[0] == b.shape[1]
                and entry.shape == (b.shape[0], a.shape[1])
                and a.shape[0] * float(np.abs(a).max()) * float(np.abs(b).max()) < _LARGEST_SUM
            )
            if not fits or entry is None:
                raise ModelMissingError(f"the adapter does not fit {name}", adapter, AGAIN)
            weight = np.frombuffer(raw, "<f2", a.shape[1] * b.shape[0], entry.at).reshape(
                entry.shape
            )
            new = weight.astype(np.float64) + b.astype(np.float64) @ a.astype(np.float64)
            made[entry.at : entry.at + entry.size] = new.astype("<f2").tobytes()
    return made


def merge(base: Path, adapter: Path, into: Path) -> str:
    """Write the `model.bin` `into` from the `model.bin` `base` and an adapter; give its SHA-256.

    The file appears whole or not at all. Raises ModelMissingError.
    """
    try:
        raw = base.read_bytes()
    except OSError as error:
        raise ModelMissingError("the model is not there", base, GET) from error
    new = merged(raw, adapter, base)
    part = into.with_name(f".{into.name}.part")
    with part.open("wb") as file:
        file.write(new)
        file.flush()
        os.fsync(file.fileno())
    part.replace(into)
    return hashlib.sha256(new).hexdigest()
