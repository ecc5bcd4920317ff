"""Moonshine in PyTorch, with the weights of onnxruntime's own files, with low-rank factors to train.

Shapes: B clips, T tokens, D width. Sound is (B, n) samples at 16 kHz; the encoder gives a frame
every 384 samples. The network is that of the two graphs (`capture/moonshine_decoder.py` says more
of the decoder). A weight here is (in, out), as the graphs multiply; factors are A (rank, in) and
B (out, rank), as in every adapter.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from tokenizers import Tokenizer
from torch import Tensor, nn

from capture.moonshine import FRAME_S, HEADS
from capture.moonshine_decoder import BEGIN, END
from capture.moonshine_weights import Tensors

STEPS = ((127, 64), (7, 3), (3, 2))  # the convolutions: their widths and strides


class Tokens:
    """Moonshine's tokens, behind the names that `clips.py` asks of a model's tokens."""

    many, plain, silent = False, None, None
    sot, eot, en = BEGIN, END, []

    def __init__(self, table: Path) -> None:
        self.t = Tokenizer.from_file(str(table))
        self.digits = list(range(3, 259))  # single bytes, which no English word needs

    def text(self, words: str) -> list[int]:
        """Give the tokens of words."""
        return self.t.encode(words.strip(), add_special_tokens=False).ids


class Moonshine(nn.Module):
    """The network. `targets` are the weights that get factors."""

    def __init__(self, folder: Path, rank: int, device: str, dtype: torch.dtype) -> None:
        super().__init__()
        first, second = (
            Tensors(folder / f) for f in ("encoder_model.ort", "decoder_model_merged.ort")
        )
        self.frame_s, self.heads, self.dtype, self.w = FRAME_S, 8, dtype, {}

        def keep(name: str, array: np.ndarray) -> None:
            self.w[name] = torch.tensor(np.array(array, np.float32), device=device)

        for held in (first, second):
            for use in held.uses:
                if "layers." in use:
                    keep(use, held.used(use))
        self.targets = sorted(self.w)
        self.layers = 1 + max(int(k.split("layers.")[1].split("/")[0]) for k in self.w)
        for n in range(self.layers):
            for part in ("input_layernorm", "post_attention_layernorm"):
                keep(f"layers.{n}/{part}", first.get(f"layers.{n}.{part}.weight"))
            for part in ("fc1", "fc2"):
                keep(f"layers.{n}/{part}.bias", first.get(f"layers.{n}.mlp.{part}.bias"))
            for part in ("input_layernorm", "post_attention_layernorm", "final_layernorm"):
                name = f"model.decoder.layers.{n}.{part}.weight_merged_0"
                keep(f"model/decoder/layers.{n}/{part}", second.get(name))
            for part in ("up_proj", "down_proj"):
                name = f"model.decoder.layers.{n}.mlp.{part}.bias_merged_0"
                keep(f"model/decoder/layers.{n}/{part}.bias", second.get(name))
        for k in (1, 2, 3):
            keep(f"conv{k}", first.get(f"conv{k}.weight"))
            if k > 1:
                keep(f"conv{k}.bias", first.get(f"conv{k}.bias"))
        keep("group", first.named("onnx::Mul_").reshape(-1))
        keep("group.bias", first.named("onnx::Add_").reshape(-1))
        keep("encoder/norm", first.get("layer_norm.weight"))
        keep("decoder/norm", second.get("model.decoder.norm.weight_merged_0"))
        keep("embed", second.get("model.decoder.embed_tokens.weight_merged_0"))
        keep("pace", second.named("rotary_emb").reshape(-1))
        self.factors = nn.ParameterDict()
        for name in self.targets:
            inner, out = self.w[name].shape
            key = name.replace("/", "|").replace(".", "_")
            a = torch.randn(rank, inner, device=device) / inner**0.5
            self.factors[key + "|A"] = nn.Parameter(a)
            self.factors[key + "|B"] = nn.Parameter(torch.zeros(out, rank, device=device))

    def weights(self) -> dict[str, Tensor]:
        """Give all weights with the factors laid on."""
        now = dict(self.w)
        for name in self.targets:
            key = name.replace("/", "|").replace(".", "_")
            delta = (self.factors[key + "|B"] @ self.factors[key + "|A"]).T
            now[name] = (now[name] + delta).to(self.dtype)
        now["embed"] = now["embed"].to(self.dtype)
        return now

    def _norm(self, x: Tensor, weight: Tensor) -> Tensor:
        return F.layer_norm(x.float(), (x.shape[-1],), weight, eps=1e-5).to(self.dtype)

    def _split(self, x: Tensor) -> Tensor:
        return x.unflatten(-1, (self.heads, -1)).transpose(1, 2)

    def _turned(self, x: Tensor, pace: Tensor) -> Tensor:
        """Turn the first dimensions of (B, heads, T, size) by the position, in adjacent pairs."""
        angle = torch.arange(x.shape[2], device=x.device)[:, None] * pace
        cos, sin, width = angle.cos(), angle.sin(), 2 * len(pace)
        even, odd = x[..., 0:width:2].float(), x[..., 1:width:2].float()
        turned = torch.stack((even * cos - odd * sin, odd * cos + even * sin), -1).flatten(-2)
        return torch.cat((turned.to(x.dtype), x[..., width:]), -1)

    def _self(self, w: dict[str, Tensor], at: str, x: Tensor, causal: bool) -> Tensor:
        y = self._norm(x, w[f"{at}/input_layernorm"])
        q, k, v = (self._split(y @ w[f"{at}/self_attn/{p}_proj"]) for p in "qkv")
        q, k = self._turned(q, w["pace"]), self._turned(k, w["pace"])
        y = F.scaled_dot_product_attention(q, k, v, is_causal=causal)
        return x + y.transpose(1, 2).flatten(2) @ w[f"{at}/self_attn/dense"]

    def encode(self, w: dict[str, Tensor], sound: Tensor) -> Tensor:
        """Sound (B, n) to frames (B, about n / 384, D)."""
        x = F.conv1d(sound[:, None], w["conv1"], stride=64).tanh()
        x = F.group_norm(x, 1, w["group"], w["group.bias"], eps=1e-5)
        for k in (2, 3):
            x = F.gelu(F.conv1d(x, w[f"conv{k}"], w[f"conv{k}.bias"], stride=STEPS[k - 1][1]))
        x = x.transpose(1, 2).to(self.dtype)
        for n in range(self.layers):
            at = f"layers.{n}"
            x = self._self(w, at, x, causal=False)
            y = self._norm(x, w[f"{at}/post_attention_layernorm"])
            y = F.gelu(y @ w[f"{at}/mlp/fc1"] + w[f"{at}/fc1.bias"].to(self.dtype))
            x = x + y @ w[f"{at}/mlp/fc2"] + w[f"{at}/fc2.bias"].to(self.dtype)
        return self._norm(x, w["encoder/norm"])

    def decode(self, w: dict[str, Tensor], tokens: Tensor, seen: Tensor) -> tuple[Tensor, Tensor]:
        """Give hidden states (B, T, D) and the mean attention of the timing heads (B, T, frames)."""
        x, looks = w["embed"][tokens], []
        for n in range(self.layers):
            at = f"model/decoder/layers.{n}"
            x = self._self(w, at, x, causal=True)
            y = self._norm(x, w[f"{at}/post_attention_layernorm"])
            q = self._split(y @ w[f"{at}/encoder_attn/q_proj"])
            k, v = (self._split(seen @ w[f"{at}/encoder_attn/{p}_proj"]) for p in "kv")
            for head in (h for layer, h in HEADS if layer == n):
                look = (q[:, head] @ k[:, head].transpose(1, 2)).float() * q.shape[-1] ** -0.5
                looks.append(look.softmax(-1))
            y = F.scaled_dot_product_attention(q, k, v).transpose(1, 2).flatten(2)
            x = x + y @ w[f"{at}/encoder_attn/dense"]
            y = self._norm(x, w[f"{at}/final_layernorm"])
            up = y @ w[f"{at}/mlp/up_proj"] + w[f"{at}/up_proj.bias"].to(self.dtype)
            half, gate = up.chunk(2, -1)
            y = F.silu(gate) * half
            x = x + y @ w[f"{at}/mlp/down_proj"] + w[f"{at}/down_proj.bias"].to(self.dtype)
        return self._norm(x, w["decoder/norm"]), torch.stack(looks).mean(0)

    def logits(self, w: dict[str, Tensor], hidden: Tensor) -> Tensor:
        """Give (..., vocabulary) from hidden states."""
        return F.linear(hidden, w["embed"]).float()

    def adapter(self, share: float) -> dict[str, np.ndarray]:
        """Give the factors as float16 arrays `NAME.A`, `NAME.B`, so that B·A is `share` of what was learnt."""
        made = {}
        for name in self.targets:
            key = name.replace("/", "|").replace(".", "_")
            a, b = (self.factors[f"{key}|{x}"].detach().cpu().numpy() for x in "AB")
            made[f"{name}.A"] = a.astype(np.float16)
            made[f"{name}.B"] = (b.astype(np.float16) * np.float32(share)).astype(np.float16)
        return made
