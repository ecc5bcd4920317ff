"""The weights in a Moonshine model's files, taken apart to float32, and what was learnt laid on.

The weights come 8 bits each in onnxruntime's own file form: q · scale + zero point is the weight.
An adapter (`capture/adapter.py` says what one is) names a weight by the multiplication that uses it
("layers.0/self_attn/q_proj" of the encoder, "model/decoder/layers.0/mlp/up_proj"); the graphs hold
weights as (in, out), so what is added is (B·A) turned.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[Any]
_KINDS = {1: np.float32, 2: np.uint8, 3: np.int8}  # by the number of a type in the file


class Tensors:
    """A file's tensors by name, as float32, each taken apart when it is asked for.

    `uses` names the tensor that each multiplication of the graph takes. Raises ValueError,
    IndexError, struct.error or the like where the file is none, or the adapter does not fit.
    """

    def __init__(self, path: Path, adapter: Path | None = None) -> None:
        from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs import InferenceSession

        raw = path.read_bytes()
        graph = InferenceSession.InferenceSession.GetRootAs(raw, 0).Model().Graph()
        self._held: dict[str, Any] = {}
        for i in range(graph.InitializersLength()):
            one = graph.Initializers(i)
            if one.DataType() in _KINDS:
                shape = [one.Dims(k) for k in range(one.DimsLength())]
                data = one.RawDataAsNumpy().view(_KINDS[one.DataType()])
                self._held[one.Name().decode()] = data.reshape(shape)
        last = graph.Nodes(graph.NodesLength() - 1)  # a decoder's is a choice of two graphs
        if last.OpType() == b"If":
            graph = last.Attributes(0).G()
        nodes = [graph.Nodes(i) for i in range(graph.NodesLength())]
        self.uses = {
            node.Name().decode().strip("/").removesuffix("/MatMul"): node.Inputs(1)
            .decode()
            .removesuffix("_add_tensor")
            for node in nodes
            if node.OpType() == b"MatMul" and node.Inputs(1).endswith(b"_add_tensor")
        }
        self._learnt: dict[str, Array] = {}
        if adapter is not None:
            with np.load(adapter, allow_pickle=False) as held:
                self._learnt = {key: held[key] for key in held.files if key != "about"}

    def named(self, part: str) -> Array:
        """Give the tensor with this in its name; of several, one that is more than a number."""
        found: Array = next(v for k, v in self._held.items() if part in k and v.size > 1)
        return found

    def get(self, name: str, rows: Sequence[int] | None = None) -> Array:
        """Give a tensor, or some rows of it; of 8 bits, q · scale + zero point as the graph has."""
        data = self._held.get(f"{name}_quantized")
        if data is None:
            return np.array(self._held[name], np.float32)  # a view would keep the whole file
        part: Array = data if rows is None else data[np.asarray(rows)]
        made = part.astype(np.float32)
        made *= self._held[f"{name}_scale"]
        made += self._held[f"{name}_zero_point"]
        return made

    def learnt(self, use: str) -> Array | None:
        """Give what the adapter adds to the weight of a multiplication, (in, out), or None."""
        if f"{use}.A" not in self._learnt:
            return None
        a, b = self._learnt[f"{use}.A"], self._learnt[f"{use}.B"]
        added: Array = (b.astype(np.float32) @ a.astype(np.float32)).T
        return added

    def used(self, use: str) -> Array:
        """Give the weight of a multiplication, what was learnt laid on."""
        weight, added = self.get(self.uses[use]), self.learnt(use)
        return weight if added is None else weight + added

    def changed(self) -> Iterator[tuple[str, Array]]:
        """Give what to put in place of tensors of a graph that takes weights apart itself.

        The weights with what was learnt laid on, in 8 bits again, each column with a scale and a
        zero point of its own, finer than the one of the whole that was there.
        """
        for use, name in self.uses.items():
            if self.learnt(use) is None:
                continue
            weight = self.used(use)
            low, high = weight.min(axis=0, keepdims=True), weight.max(axis=0, keepdims=True)
            scale = np.maximum((high - low) / np.float32(255), np.float32(1e-12))
            zero = low + 128 * scale
            steps = np.clip(np.rint((weight - zero) / scale), -128, 127).astype(np.int8)
            yield from zip(
                (f"{name}_quantized", f"{name}_scale", f"{name}_zero_point"),
                (steps, scale, zero),
                strict=True,
            )
