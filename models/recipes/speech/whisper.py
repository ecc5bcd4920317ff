"""Whisper in PyTorch, its weights by their CTranslate2 names, with low-rank factors to train.

Shapes: B clips, T tokens, D width. Sound features are (B, 80, n), n up to 3000: 30 s in frames of 10 ms.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

from capture.adapter import entries


def arrays(model_bin: Path) -> dict[str, np.ndarray]:
    """Give every half-precision array of a `model.bin` by name."""
    raw = model_bin.read_bytes()
    return {
        e.name: np.frombuffer(raw, "<f2", int(np.prod(e.shape)), e.at).reshape(e.shape)
        for e in entries(raw)
        if e.kind == 4
    }


class Whisper(nn.Module):
    """The network. `targets` are the weights that get factors A (rank, in) and B (out, rank)."""

    frame_s = 0.02

    def __init__(self, folder: Path, rank: int, device: str, dtype: torch.dtype) -> None:
        super().__init__()
        held = arrays(folder / "model.bin")
        self.w = {
            k: torch.tensor(v.astype(np.float32), device=device).to(dtype) for k, v in held.items()
        }
        self.layers = 1 + max(
            int(k.split("/")[1][6:])
            for k in held
            if k.startswith("encoder/layer_") and k[14].isdigit()
        )
        self.width = held["decoder/embeddings/weight"].shape[1]
        self.heads = self.width // 64
        self.align = [
            tuple(x) for x in json.loads((folder / "config.json").read_text())["alignment_heads"]
        ]
        self.targets = sorted(
            k for k in held if "/linear_" in k and k.endswith("/weight") and "layer_" in k
        )
        self.factors = nn.ParameterDict()
        for name in self.targets:
            out, inner = held[name].shape
            key = name.replace("/", "|")
            self.factors[key + "|A"] = nn.Parameter(
                torch.randn(rank, inner, device=device) / inner**0.5
            )
            self.factors[key + "|B"] = nn.Parameter(torch.zeros(out, rank, device=device))

    def weights(self) -> dict[str, Tensor]:
        """Give all weights with the factors laid on."""
        now = dict(self.w)
        for name in self.targets:
            key = name.replace("/", "|")
            delta = self.factors[key + "|B"] @ self.factors[key + "|A"]
            now[name] = now[name] + delta.to(now[name].dtype)
        return now

    def _split(self, x: Tensor) -> Tensor:
        return x.unflatten(-1, (self.heads, 64)).transpose(1, 2)

    def _norm(self, w: dict[str, Tensor], name: str, x: Tensor) -> Tensor:
        return F.layer_norm(x, (self.width,), w[name + "/gamma"], w[name + "/beta"])

    @staticmethod
    def _linear(w: dict[str, Tensor], name: str, x: Tensor) -> Tensor:
        return F.linear(x, w[name + "/weight"], w[name + "/bias"])

    def _self(self, w: dict[str, Tensor], at: str, x: Tensor, causal: bool) -> Tensor:
        q, k, v = self._linear(w, at + "/linear_0", self._norm(w, at + "/layer_norm", x)).chunk(
            3, -1
        )
        y = F.scaled_dot_product_attention(
            self._split(q), self._split(k), self._split(v), is_causal=causal
        )
        return x + self._linear(w, at + "/linear_1", y.transpose(1, 2).flatten(2))

    def _feed(self, w: dict[str, Tensor], at: str, x: Tensor) -> Tensor:
        y = F.gelu(self._linear(w, at + "/linear_0", self._norm(w, at + "/layer_norm", x)))
        return x + self._linear(w, at + "/linear_1", y)

    def encode(self, w: dict[str, Tensor], mel: Tensor) -> Tensor:
        """Features (B, 80, n) to (B, n / 2, D)."""
        x = mel.to(w["encoder/conv1/weight"].dtype)
        x = F.gelu(F.conv1d(x, w["encoder/conv1/weight"], w["encoder/conv1/bias"], padding=1))
        x = F.gelu(
            F.conv1d(x, w["encoder/conv2/weight"], w["encoder/conv2/bias"], stride=2, padding=1)
        )
        x = x.transpose(1, 2)
        x = x + w["encoder/position_encodings/encodings"][: x.shape[1]]
        for i in range(self.layers):
            x = self._self(w, f"encoder/layer_{i}/self_attention", x, causal=False)
            x = self._feed(w, f"encoder/layer_{i}/ffn", x)
        return self._norm(w, "encoder/layer_norm", x)

    def decode(self, w: dict[str, Tensor], tokens: Tensor, seen: Tensor) -> tuple[Tensor, Tensor]:
        """Give hidden states (B, T, D) and the mean attention of the alignment heads (B, T, n / 2)."""
        x = (
            w["decoder/embeddings/weight"][tokens]
            + w["decoder/position_encodings/encodings"][: tokens.shape[1]]
        )
        looks = []
        for i in range(self.layers):
            x = self._self(w, f"decoder/layer_{i}/self_attention", x, causal=True)
            at = f"decoder/layer_{i}/attention"
            q = self._split(self._linear(w, at + "/linear_0", self._norm(w, at + "/layer_norm", x)))
            k, v = (self._split(y) for y in self._linear(w, at + "/linear_1", seen).chunk(2, -1))
            y = F.scaled_dot_product_attention(q, k, v)
            for head in (h for layer, h in self.align if layer == i):
                looks.append(((q[:, head] @ k[:, head].transpose(1, 2)).float() / 8.0).softmax(-1))
            x = x + self._linear(w, at + "/linear_2", y.transpose(1, 2).flatten(2))
            x = self._feed(w, f"decoder/layer_{i}/ffn", x)
        return self._norm(w, "decoder/layer_norm", x), torch.stack(looks).mean(0)

    def logits(self, w: dict[str, Tensor], hidden: Tensor) -> Tensor:
        """Give (..., vocabulary) from hidden states."""
        return F.linear(hidden, w["decoder/embeddings/weight"]).float()

    def adapter(self, share: float) -> dict[str, np.ndarray]:
        """Give the factors as float16 arrays `NAME.A`, `NAME.B`, so that B·A is `share` of what was learnt."""
        held = {k: v.detach().cpu().numpy() for k, v in self.factors.items()}
        made = {}
        for name in self.targets:
            key = name.replace("/", "|")
            made[f"{name}.A"] = held[key + "|A"].astype(np.float16)
            made[f"{name}.B"] = (held[key + "|B"].astype(np.float16) * np.float32(share)).astype(
                np.float16
            )
        return made


@torch.no_grad()
def greedy(
    net: nn.Module,
    w: dict[str, Tensor],
    sound: Tensor,
    start: list[int],
    eot: int,
    most: int,
    banned: Tensor,
) -> list[list[int]]:
    """Give each clip's tokens, the likeliest at each step; `banned` is added to the logits."""
    seen = net.encode(w, sound)
    tokens = torch.tensor([start] * len(sound), device=sound.device)
    done = torch.zeros(len(sound), dtype=torch.bool, device=sound.device)
    for _ in range(most):
        hidden, _ = net.decode(w, tokens, seen)
        best = (net.logits(w, hidden[:, -1]) + banned).argmax(-1)
        best = torch.where(done, eot, best)
        done |= best == eot
        tokens = torch.cat([tokens, best[:, None]], 1)
        if bool(done.all()):
            break
    return [[t for t in row[len(start) :] if t != eot] for row in tokens.tolist()]
