"""The decoder of a Moonshine model with numpy: tokens from what its encoder made of a sound.

The weights come 8 bits each in onnxruntime's own file form, and the graph in it takes them apart
anew at every token (59 ms on one core). Here that is done once, at the load (15 ms a token on a
busy machine), and
where each token was heard is seen as well: the graph keeps that to itself.

The network is that of the model's own graph: rotary positions on 32 of 52 dimensions a head in
adjacent pairs, layer norms without bias, a gated MLP with SiLU, logits by the embedding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from capture.moonshine_weights import Array, Tensors

BEGIN, END = 1, 2
_EPS = np.float32(1e-5)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer's weights, (in, out) each; q, k and v of the tokens are one."""

    norms: tuple[Array, Array, Array]
    qkv: Array
    own: Array
    q: Array
    kv: Array
    other: Array
    up: tuple[Array, Array]
    down: tuple[Array, Array]


def _layer(n: int, held: Tensors) -> Layer:
    def w(*names: str) -> Array:
        uses = [held.used(f"model/decoder/layers.{n}/{name}") for name in names]
        return np.concatenate(uses, axis=1)

    def v(name: str) -> Array:
        return held.get(f"model.decoder.layers.{n}.{name}_merged_0")

    norms = ("input_layernorm", "post_attention_layernorm", "final_layernorm")
    first, second, third = (v(f"{name}.weight") for name in norms)
    return Layer(
        (first, second, third),
        w("self_attn/q_proj", "self_attn/k_proj", "self_attn/v_proj"),
        w("self_attn/dense"),
        w("encoder_attn/q_proj"),
        w("encoder_attn/k_proj", "encoder_attn/v_proj"),
        w("encoder_attn/dense"),
        (w("mlp/up_proj"), v("mlp.up_proj.bias")),
        (w("mlp/down_proj"), v("mlp.down_proj.bias")),
    )


@dataclass(frozen=True, slots=True)
class Said:
    """One decoded piece: tokens without begin and end, each one's log probability, where heard.

    `where` is (tokens, layers, heads, frames): how each head looked at the encoder's frames when
    the token was given. `ended` says that the model itself came to an end.
    """

    tokens: tuple[int, ...]
    likely: tuple[float, ...]
    where: Array
    ended: bool


class Decoder:
    """Greedy decoding. Takes about 150 MB.

    `keep` are the tokens that any text may have: of the others no weights are kept.
    """

    def __init__(
        self, path: Path, keep: Sequence[int], heads: int = 8, adapter: Path | None = None
    ) -> None:
        held = Tensors(path, adapter)
        self._keep = np.asarray(keep)
        embed = held.get("model.decoder.embed_tokens.weight_merged_0", keep)
        self._out = np.ascontiguousarray(embed.T)  # and a token's own row is a column of it
        self._norm = held.get("model.decoder.norm.weight_merged_0")
        self._pace = held.named("rotary_emb").reshape(-1).copy()
        layers = 0
        while f"model/decoder/layers.{layers}/mlp/up_proj" in held.uses:
            layers += 1
        self._layers = [_layer(n, held) for n in range(layers)]
        self._heads, self._size = heads, len(self._out) // heads

    def decode(self, frames: Array, limit: int, least: int = 0) -> Said:
        """Decode what an encoder made of a piece: (n, width).

        `limit` is the most tokens, `least` the fewest before it may come to an end.
        """
        across = [self._across(layer, frames) for layer in self._layers]
        own = np.zeros((len(self._layers), 2, self._heads, limit + 1, self._size), np.float32)
        end = int(np.flatnonzero(self._keep == END)[0])
        begin = now = int(np.flatnonzero(self._keep == BEGIN)[0])
        tokens: list[int] = []
        likely: list[float] = []
        where: list[Array] = []
        for at in range(limit + 1):
            x, seen = self._step(self._out[:, now], at, own, across)
            chances = x @ self._out
            chances[begin] = -np.inf
            if at < least:
                chances[end] = -np.inf
            chances -= chances.max()
            chances -= np.log(np.exp(chances).sum())
            now = int(chances.argmax())
            if now == end or at == limit:
                break
            tokens.append(int(self._keep[now]))
            likely.append(float(chances[now]))
            where.append(seen)
        seen = np.stack(where) if where else np.zeros((0, 1, 1, len(frames)), np.float32)
        return Said(tuple(tokens), tuple(likely), seen, now == end)

    def _across(self, layer: Layer, frames: Array) -> tuple[Array, Array]:
        """Give a layer's keys (heads, size, frames) and values (heads, frames, size) of a sound."""
        both = (frames @ layer.kv).reshape(len(frames), 2, self._heads, self._size)
        keys, values = both[:, 0].transpose(1, 2, 0), both[:, 1].transpose(1, 0, 2)
        return np.ascontiguousarray(keys), np.ascontiguousarray(values)

    def _step(
        self, x: Array, at: int, own: Array, across: list[tuple[Array, Array]]
    ) -> tuple[Array, Array]:
        """Give (width,) behind the last layer, and where it looked: (layers, heads, frames)."""
        heads, size = self._heads, self._size
        scale = np.float32(size**-0.5)
        turn = np.cos(self._pace * np.float32(at)), np.sin(self._pace * np.float32(at))
        where = []
        for layer, kept, (far_keys, far_values) in zip(self._layers, own, across, strict=True):
            q, key, value = (_normed(x, layer.norms[0]) @ layer.qkv).reshape(3, heads, size)
            kept[0, :, at], kept[1, :, at] = _turned(key, turn), value
            q = (_turned(q, turn) * scale)[:, None]
            seen = _softmax(q @ kept[0, :, : at + 1].swapaxes(1, 2))
            x = x + (seen @ kept[1, :, : at + 1]).reshape(-1) @ layer.own
            q = (_normed(x, layer.norms[1]) @ layer.q).reshape(heads, 1, size) * scale
            seen = _softmax(q @ far_keys)
            where.append(seen[:, 0])
            x = x + (seen @ far_values).reshape(-1) @ layer.other
            up = _normed(x, layer.norms[2]) @ layer.up[0] + layer.up[1]
            half = len(up) // 2
            gate = up[half:]
            x = x + (gate / (1 + np.exp(-gate)) * up[:half]) @ layer.down[0] + layer.down[1]
        return _normed(x, self._norm), np.stack(where)


def _normed(x: Array, weight: Array) -> Array:
    x = x - x.mean()
    made: Array = x * (weight / np.sqrt(x @ x / np.float32(len(x)) + _EPS))
    return made


def _softmax(x: Array) -> Array:
    x = np.exp(x - x.max(axis=-1, keepdims=True))
    made: Array = x / x.sum(axis=-1, keepdims=True)
    return made


def _turned(x: Array, turn: tuple[Array, Array]) -> Array:
    """Turn the first dimensions of (heads, size) by the position, in adjacent pairs."""
    cos, sin = turn
    width = 2 * len(cos)
    even, odd = x[:, 0:width:2], x[:, 1:width:2]
    made = x.copy()
    made[:, 0:width:2] = even * cos - odd * sin
    made[:, 1:width:2] = odd * cos + even * sin
    return made
