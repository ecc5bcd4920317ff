"""Trains the reader of extract/claims on marked notes. PyTorch, one GPU; seeds fixed.

    python train.py EXAMPLES.json CUT_DIR OUT_DIR [--folds 4] [--rounds 14] [--only final|folds|N] [--held SOURCE ...]

CUT_DIR is what cut.py wrote. The folds are by file, so that no hand is judged by a reader that has
met it: each fold's reader says what it takes every note of its files for (`fold-N.npz`; its weights
in `fold-N/`, for fitting what the two readers together are worth); then one reader is trained on everything and exported as
`reader.onnx` (weights as whole numbers of 8 bits) with `reader.json`, the names of what it gives.
"""

from __future__ import annotations

import argparse
import gzip
import json
import random
import time
import zlib
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from tokenizers import Tokenizer
from torch import nn

REASONS = "limit plan question negation history other hearsay quote conditional joke thing".split()
PLACES = ["", "1", "2", "3", "4", "5", "6", "nose", "left", "right", "tail", "top", "bottom"]
LONGEST = 300
WEAK = ("sentences", "cases")
WIDE, LAYERS, HEADS = 384, 6, 12
device = "cuda" if torch.cuda.is_available() else "cpu"


class Layer(nn.Module):
    def __init__(self):
        super().__init__()
        self.q, self.k, self.v, self.o = (nn.Linear(WIDE, WIDE) for _ in range(4))
        self.norm1, self.norm2 = nn.LayerNorm(WIDE, 1e-12), nn.LayerNorm(WIDE, 1e-12)
        self.up, self.down = nn.Linear(WIDE, 4 * WIDE), nn.Linear(4 * WIDE, WIDE)
        self.drop = nn.Dropout(0.1)

    def forward(self, x, mask):
        b, n, _ = x.shape
        q, k, v = (
            f(x).view(b, n, HEADS, WIDE // HEADS).transpose(1, 2) for f in (self.q, self.k, self.v)
        )
        scores = q @ k.transpose(-1, -2) / (WIDE // HEADS) ** 0.5 + mask
        mixed = (self.drop(scores.softmax(-1)) @ v).transpose(1, 2).reshape(b, n, WIDE)
        x = self.norm1(x + self.drop(self.o(mixed)))
        return self.norm2(x + self.drop(self.down(F.gelu(self.up(x)))))


class Encoder(nn.Module):
    def __init__(self, words, positions):
        super().__init__()
        self.words, self.places = nn.Embedding(words, WIDE), nn.Embedding(positions, WIDE)
        self.kind = nn.Parameter(torch.zeros(WIDE))
        self.norm, self.drop = nn.LayerNorm(WIDE, 1e-12), nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))

    def forward(self, ids, mask):
        x = self.words(ids) + self.places(torch.arange(ids.shape[1], device=ids.device)) + self.kind
        x = self.drop(self.norm(x))
        mask = (1.0 - mask[:, None, None, :].to(x.dtype)) * -10000.0
        for layer in self.layers:
            x = layer(x, mask)
        return x

    def load(self, cut):
        w = {
            k: torch.tensor(np.asarray(v, np.float32))
            for k, v in np.load(cut / "weights.npz").items()
        }
        put = lambda mine, name: mine.data.copy_(w[name])
        put(self.words.weight, "embeddings.word_embeddings.weight")
        put(self.places.weight, "embeddings.position_embeddings.weight")
        self.kind.data.copy_(w["embeddings.token_type_embeddings.weight"][0])
        (
            put(self.norm.weight, "embeddings.LayerNorm.weight"),
            put(self.norm.bias, "embeddings.LayerNorm.bias"),
        )
        for n, layer in enumerate(self.layers):
            at = f"encoder.layer.{n}."
            for mine, name in (
                (layer.q, "attention.self.query"),
                (layer.k, "attention.self.key"),
                (layer.v, "attention.self.value"),
                (layer.o, "attention.output.dense"),
                (layer.norm1, "attention.output.LayerNorm"),
                (layer.up, "intermediate.dense"),
                (layer.down, "output.dense"),
                (layer.norm2, "output.LayerNorm"),
            ):
                put(mine.weight, at + name + ".weight"), put(mine.bias, at + name + ".bias")


class Reader(nn.Module):
    def __init__(self, form, words, positions):
        super().__init__()
        self.encoder = Encoder(words, positions)
        self.signs = nn.EmbeddingBag(len(form["signs"]) + 1, 32, mode="sum")
        nn.init.normal_(self.signs.weight, std=0.05)
        self.cand = nn.Linear(3 * WIDE + 32, 320)
        self.out = nn.Linear(320, len(form["out"]))
        self.field = nn.Linear(320, len(form["field"]))
        self.place = nn.Linear(320, len(PLACES))
        self.query, self.key = nn.Linear(320, 64), nn.Linear(320, 64)
        self.stay = nn.Parameter(torch.zeros(1))
        self.part = nn.Linear(WIDE, 256)
        self.state = nn.Linear(256, len(form["state"]))
        self.status = nn.Linear(256, len(form["status"]))
        self.drop = nn.Dropout(0.2)

    def forward(self, ids, mask, b):
        """Hidden states to what every part and every candidate of a batch is (see `gather`)."""
        hidden = self.encoder(ids, mask).float().view(-1, WIDE)
        return self.heads(hidden, b)

    def heads(self, hidden, b):
        parts = (
            hidden[b["first"]] + hidden[b["last"]]
        ) / 2  # a part: its first and last word piece
        tagged = F.gelu(self.part(self.drop(parts)))
        got = {"state": self.state(tagged), "status": self.status(tagged)}
        if len(b["a"]):
            sums = torch.cat([parts.new_zeros(1, WIDE), parts.cumsum(0)])
            mean = (sums[b["b"]] - sums[b["a"]]) / (b["b"] - b["a"])[:, None]
            x = torch.cat(
                [parts[b["a"]], parts[b["b"] - 1], mean, self.signs(b["signs"], b["offsets"])], 1
            )
            x = F.gelu(self.cand(self.drop(x)))
            point = self.query(x) @ self.key(x).T / 8
            ahead = (b["note"][:, None] == b["note"][None, :]).triu(1)
            point = torch.cat([self.stay.expand(len(x), 1), point.masked_fill(~ahead, -1e4)], 1)
            got |= {
                "out": self.out(x),
                "field": self.field(x),
                "place": self.place(x),
                "point": point,
            }
        return got


def vocabulary(memos):
    outs = {c["out"] for m in memos for c in m["cands"] if c["out"]}
    fields = sorted({c["field"] for m in memos for c in m["cands"] if c["field"]})
    signs = sorted({s for m in memos for c in m["cands"] for s in c["signs"]})
    states = {s for m in memos for *_, s, _ in m["states"]} | {
        s for m in memos for *_, s in m["loose"]
    }
    return {
        "out": [*sorted(outs & set(fields)), "replaced", "cut", *REASONS],
        "field": fields,
        "signs": signs,
        "place": PLACES,
        "state": ["", *sorted(states)],
        "status": ["stated", "replaced", *REASONS],
    }


def windows(memo):
    """Cut a note that is too long where a sentence ends; candidates and states go with their words."""
    pieces = memo["pieces"]
    if len(pieces) <= LONGEST * 2 // 3:
        yield memo
        return
    start = 0
    size = LONGEST * 2 // 3
    while start < len(pieces):
        stop = min(len(pieces), start + size)
        if stop < len(pieces):
            ends = [k for k in range(start + size // 2, stop) if pieces[k][0] in ".?!"]
            stop = ends[-1] + 1 if ends else stop
        parts = [p for _, p in pieces[start:stop] if p >= 0]
        lo, hi = min(parts), max(parts) + 1
        keep = [n for n, c in enumerate(memo["cands"]) if lo <= c["a"] and c["b"] <= hi]
        new = {n: k for k, n in enumerate(keep)}
        yield memo | {
            "pieces": [[t, p - lo if p >= 0 else -1] for t, p in pieces[start:stop]],
            "cands": [
                memo["cands"][n]
                | {
                    "a": memo["cands"][n]["a"] - lo,
                    "b": memo["cands"][n]["b"] - lo,
                    "to": new.get(memo["cands"][n]["to"]),
                }
                for n in keep
            ],
            "states": [
                [max(a, lo) - lo, min(b, hi) - lo, *r]
                for a, b, *r in memo["states"]
                if a < hi and lo < b
            ],
            "loose": [
                [max(a, lo) - lo, min(b, hi) - lo, r]
                for a, b, r in memo["loose"]
                if a < hi and lo < b
            ],
            "cut": (lo, keep),
        }
        start = stop


class Made:
    """Notes to tensors."""

    def __init__(self, form, tokenizer, confusions):
        self.form, self.tok, self.confusions = form, tokenizer, confusions
        self.at = {k: {v: i for i, v in enumerate(form[k])} for k in form}
        self.commons = list(confusions)

    def mishear(self, memo, rng):
        """What an ear does to words that are no values: lost, taken for others; marks lost."""
        pieces = memo["pieces"]
        inside = {k for c in memo["cands"] for k in range(c["a"], c["b"])}
        if rng.random() < 0.3:
            keep_stops = rng.random() < 0.3
            pieces = [p for p in pieces if p[1] >= 0 or (keep_stops and p[0] in ".?!")]
        if rng.random() < 0.3:
            made = []
            rate = rng.choice((0.03, 0.08, 0.15))
            for text, part in pieces:
                if part >= 0 and part not in inside and rng.random() < rate:
                    turn = rng.random()
                    if turn < 0.35:
                        text = ""
                    elif text in self.confusions:
                        text = rng.choice(self.confusions[text])
                    elif turn < 0.6:
                        text = rng.choice(self.confusions[rng.choice(self.commons)])
                elif part < 0 and rng.random() < rate:
                    continue
                made.append([text, part])
            pieces = made
        return memo | {"pieces": pieces}

    def one(self, memo, rng=None):
        if rng is not None:
            memo = self.mishear(memo, rng)
        pieces = memo["pieces"]
        count = max([p for _, p in memo["pieces"]], default=-1) + 1
        count = max([count, *(c["b"] for c in memo["cands"])])
        coded = self.tok.encode(
            [t or "[UNK]" if p >= 0 else t for t, p in pieces], is_pretokenized=True
        )
        first, last = [0] * count, [0] * count
        ids = coded.ids[: LONGEST + 18]
        for n, w in enumerate(coded.word_ids[: len(ids)]):
            if w is not None and pieces[w][1] >= 0:
                k = pieces[w][1]
                first[k] = first[k] or n
                last[k] = n
        for k in range(count):  # a part that left no piece borrows its neighbour's
            if not first[k] and k:
                first[k], last[k] = last[k - 1], last[k - 1]
        signs, offsets = [], []
        for c in memo["cands"]:
            offsets.append(len(signs))
            signs += [self.at["signs"][s] + 1 if s in self.at["signs"] else 0 for s in c["signs"]]
        got = {
            k: torch.tensor(v)
            for k, v in dict(
                ids=ids,
                first=first,
                last=last,
                a=[c["a"] for c in memo["cands"]],
                b=[c["b"] for c in memo["cands"]],
                signs=signs,
                offsets=offsets,
            ).items()
        }
        none = -100
        got["y_out"] = torch.tensor(
            [
                none
                if c["out"] is None
                else -1
                if c["out"] == "unstated"
                else self.at["out"][c["out"]]
                for c in memo["cands"]
            ]
        )
        got["y_field"] = torch.tensor(
            [self.at["field"].get(c["field"], none) for c in memo["cands"]]
        )
        got["y_place"] = torch.tensor(
            [
                PLACES.index(str(c["place"])) if c["place"] else 0 if c["field"] else none
                for c in memo["cands"]
            ]
        )
        got["y_point"] = torch.tensor(
            [
                none if c["out"] in (None, "unstated") else 0 if c["to"] is None else 1 + c["to"]
                for c in memo["cands"]
            ]
        )
        state, status = [0] * count, [none] * count
        for a, b, s, why in memo["states"]:
            for k in range(a, min(b, count)):
                if why is None:
                    state[k] = none
                else:
                    state[k], status[k] = self.at["state"].get(s, none), self.at["status"][why]
        for a, b, _ in memo["loose"]:
            for k in range(a, min(b, count)):
                state[k] = none
        got["y_state"], got["y_status"] = torch.tensor(state), torch.tensor(status)
        got["loose"] = [
            (a, min(b, count), self.at["state"][s])
            for a, b, s in memo["loose"]
            if s in self.at["state"] and a < count
        ]
        got["unstated"] = torch.tensor(
            [i for i, o in enumerate(self.form["out"]) if o not in self.at["field"]]
        )
        got["silent"] = torch.tensor(
            [not i or s.split(" ")[0] in memo["unmarked"] for i, s in enumerate(self.form["state"])]
        )
        return got


def loss_of(got, b, smooth=0.0):
    ce = lambda x, y, smooth=0.0: F.cross_entropy(
        x, y, ignore_index=-100, reduction="sum", label_smoothing=smooth
    )
    total = got["state"].new_zeros(())
    if len(b["a"]):
        y = b["y_out"]
        vague = y == -1  # no field's value, and why is not known
        if vague.any():
            total = total - got["out"][vague].log_softmax(-1)[:, b["unstated"]].logsumexp(-1).sum()
        total = (
            total
            + ce(got["out"], torch.where(vague, -100, y), smooth)
            + 0.4 * ce(got["field"], b["y_field"])
        )
        total = total + 1.0 * ce(got["place"], b["y_place"]) + 0.3 * ce(got["point"], b["y_point"])
    logs = got["state"].log_softmax(-1)
    y = b["y_state"]
    # where nobody was asked to mark a state, a word is of no state, or of that one
    base = logs.masked_fill(~b["silent"][b["note_of_part"]], -1e4).logsumexp(-1)
    told = y > 0
    total = total - 0.25 * base[y == 0].sum() - 0.5 * logs[told, y[told]].sum()
    total = total + 0.4 * ce(got["status"], b["y_status"])
    if len(b["loose"]):
        rows, s = b["loose"], b["loose_state"]
        inside = logs[rows.clamp(min=0), s[:, None]].masked_fill(rows < 0, -1e4)
        best, where = inside.max(1)
        at = rows.gather(1, where[:, None])[:, 0]
        total = total - best.sum() - 0.1 * got["status"].log_softmax(-1)[at, 0].sum()
    return total


def gather(some):
    """Put notes side by side: ids (notes, longest), and flat rows of parts and candidates."""
    n = max(len(o["ids"]) for o in some)
    ids, mask = torch.zeros(len(some), n, dtype=torch.long), torch.zeros(len(some), n)
    flat = {
        k: []
        for k in (
            "first",
            "last",
            "a",
            "b",
            "signs",
            "offsets",
            "note",
            "note_of_part",
            "y_out",
            "y_field",
            "y_place",
            "y_point",
            "y_state",
            "y_status",
            "silent",
        )
    }
    loose, states = [], []
    parts = cands = signs = 0
    for k, o in enumerate(some):
        ids[k, : len(o["ids"])], mask[k, : len(o["ids"])] = o["ids"], 1
        flat["first"].append(o["first"] + k * n), flat["last"].append(o["last"] + k * n)
        flat["a"].append(o["a"] + parts), flat["b"].append(o["b"] + parts)
        flat["signs"].append(o["signs"]), flat["offsets"].append(o["offsets"] + signs)
        (
            flat["note"].append(torch.full((len(o["a"]),), k)),
            flat["note_of_part"].append(torch.full((len(o["first"]),), k)),
        )
        flat["y_point"].append(torch.where(o["y_point"] > 0, o["y_point"] + cands, o["y_point"]))
        for name in ("y_out", "y_field", "y_place", "y_state", "y_status"):
            flat[name].append(o[name])
        flat["silent"].append(o["silent"][None])
        for a, b, s in o["loose"]:
            if b > a:
                loose.append(torch.arange(a + parts, b + parts)), states.append(s)
        parts, cands, signs = parts + len(o["first"]), cands + len(o["a"]), signs + len(o["signs"])
    made = {k: torch.cat(v) for k, v in flat.items()}
    for k in ("a", "b", "signs", "offsets", "y_out", "y_field", "y_place", "y_point"):
        made[k] = made[k].long()
    made["loose"] = (
        torch.nn.utils.rnn.pad_sequence(loose, batch_first=True, padding_value=-1)
        if loose
        else torch.zeros(0, 0, dtype=torch.long)
    )
    made["loose_state"] = torch.tensor(states, dtype=torch.long)
    made["unstated"] = some[0]["unstated"]
    return ids.to(device), mask.to(device), {k: v.to(device) for k, v in made.items()}


def batches(items, size, rng):
    order = sorted(range(len(items)), key=lambda i: len(items[i]["ids"]) + rng.random() * 12)
    groups = [order[i : i + size] for i in range(0, len(order), size)]
    rng.shuffle(groups)
    for group in groups:
        yield *gather([items[i] for i in group]), group


def train(memos, form, cut, made, given, seed, size=48):
    rounds = given.rounds
    rng = random.Random(seed)
    torch.manual_seed(seed)
    positions, words = (
        np.load(cut / "weights.npz")[f"embeddings.{k}_embeddings.weight"].shape[0]
        for k in ("position", "word")
    )
    model = Reader(form, words, positions).to(device)
    model.encoder.load(cut)
    heads = [p for n, p in model.named_parameters() if not n.startswith("encoder")]
    steps = rounds * (len(memos) // size + 1)
    optim = torch.optim.AdamW(
        [{"params": model.encoder.parameters(), "lr": given.rate}, {"params": heads, "lr": 1e-3}],
        weight_decay=0.01,
    )
    plan = torch.optim.lr_scheduler.LambdaLR(
        optim, lambda s: min(1, s / (0.06 * steps)) * max(0.0, 1 - s / steps)
    )
    mean = torch.optim.swa_utils.AveragedModel(
        model, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.995)
    )
    begun = time.time()
    for turn in range(rounds):
        items = [made.one(m, rng) for m in memos]
        total = 0.0
        for ids, mask, b, group in batches(items, size, rng):
            with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
                hidden = model.encoder(ids, mask)
            loss = loss_of(model.heads(hidden.float().view(-1, WIDE), b), b, given.smooth) / len(
                group
            )
            optim.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
            optim.step()
            plan.step()
            mean.update_parameters(model)
            total += loss.detach() * len(group)
        print(
            f"  round {turn + 1}: {float(total) / len(items):.3f}, {time.time() - begun:.0f} s",
            flush=True,
        )
    return mean.module.eval()


@torch.no_grad()
def predict(model, memos, made):
    items = [made.one(m) for m in memos]
    told = [None] * len(items)
    for ids, mask, b, group in batches(items, 64, random.Random(0)):
        got = {n: v.float().softmax(-1).cpu().numpy() for n, v in model(ids, mask, b).items()}
        part, cand = 0, 0
        for i in group:
            p, c = len(items[i]["first"]), len(items[i]["a"])
            told[i] = {n: got[n][part : part + p] for n in ("state", "status")}
            if c:
                told[i] |= {n: got[n][cand : cand + c] for n in ("out", "field", "place")}
                told[i]["point"] = np.concatenate(
                    [
                        got["point"][cand : cand + c, :1],
                        got["point"][cand : cand + c, 1 + cand : 1 + cand + c],
                    ],
                    1,
                )
            part, cand = part + p, cand + c
    return told


def figures(memos, told, form):
    """Precision and recall of candidates and of states (in the note, by name and value)."""
    n = dict.fromkeys(("right", "wrong", "missed", "s_right", "s_wrong", "s_missed", "place"), 0)
    for m, t in zip(memos, told, strict=True):
        for k, c in enumerate(m["cands"]):
            if c["out"] is None:
                continue
            said = form["out"][int(t["out"][k].argmax())]
            said = said if said in form["field"] else None
            want = c["out"] if c["out"] in form["field"] else None
            n["right"] += said is not None and said == want
            n["wrong"] += said is not None and said != want
            n["missed"] += want is not None and said != want
            if want and said == want and c["place"]:
                n["place"] += form["place"][int(t["place"][k].argmax())] != str(c["place"])
        if not m["loose"]:
            want = {s for *_, s, why in m["states"] if why == "stated"}
            maybe = {s for *_, s, why in m["states"] if why is None}
            said = {s for _a, _b, s, p in spans(t, form) if p >= 0.5}
            skip = {s for s in form["state"] if s.split(" ")[0] in m["unmarked"]} | maybe
            n["s_right"] += len(said & want)
            n["s_wrong"] += len(said - want - skip)
            n["s_missed"] += len(want - said)
    p, r = (
        n["right"] / max(1, n["right"] + n["wrong"]),
        n["right"] / max(1, n["right"] + n["missed"]),
    )
    sp, sr = (
        n["s_right"] / max(1, n["s_right"] + n["s_wrong"]),
        n["s_right"] / max(1, n["s_right"] + n["s_missed"]),
    )
    return f"{len(memos)} notes: candidates {p:.3f}/{r:.3f} of {n['right'] + n['missed']}, places wrong {n['place']}; states {sp:.3f}/{sr:.3f} of {n['s_right'] + n['s_missed']}"


def spans(t, form):
    """Give (a, b, state, probability that it is stated) of every stretch that one state holds."""
    best = t["state"].argmax(-1)
    k = 0
    while k < len(best):
        s = best[k]
        j = k
        while j + 1 < len(best) and (
            best[j + 1] == s or (j + 2 < len(best) and best[j + 2] == s and s)
        ):
            j += 1
        if s:
            p = float(t["state"][k : j + 1, s].max())
            status = (
                t["status"][k : j + 1][t["state"][k : j + 1, s] > 0.3].mean(0)
                if (t["state"][k : j + 1, s] > 0.3).any()
                else t["status"][k : j + 1].mean(0)
            )
            yield k, j + 1, form["state"][s], p * float(status[0])
        k = j + 1


class Whole(nn.Module):
    """The reader of one note as one graph, everything that depends on lengths handed in."""

    def __init__(self, model):
        super().__init__()
        self.m = model

    def forward(self, ids, first, last, start, end, inside, signs, ahead):
        """first, last (parts,): word pieces; start, end (candidates,): parts; inside (candidates,
        parts): 1/length; signs (candidates, signs): counts; ahead (candidates, candidates): 1 or 0."""
        m = self.m
        hidden = m.encoder(ids, torch.ones_like(ids, dtype=torch.float32))[0]
        parts = (hidden[first] + hidden[last]) / 2
        tagged = F.gelu(m.part(parts))
        x = torch.cat([parts[start], parts[end], inside @ parts, signs @ m.signs.weight], 1)
        x = F.gelu(m.cand(x))
        point = m.query(x) @ m.key(x).transpose(0, 1) / 8
        point = torch.cat([m.stay.expand(x.shape[0], 1), point + (ahead - 1.0) * 1e4], 1)
        return tuple(
            t.softmax(-1)
            for t in (m.out(x), m.field(x), m.place(x), point, m.state(tagged), m.status(tagged))
        )


OUTPUTS = ("out", "field", "place", "point", "state", "status")


def export(model, form, cut, out):
    from onnxruntime.quantization import QuantType, quantize_dynamic

    model = model.to("cpu").float().eval()
    n, c = 12, 3
    given = {
        "ids": torch.ones(1, n, dtype=torch.long),
        "first": torch.ones(7, dtype=torch.long),
        "last": torch.ones(7, dtype=torch.long),
        "start": torch.ones(c, dtype=torch.long),
        "end": torch.ones(c, dtype=torch.long),
        "inside": torch.zeros(c, 7),
        "signs": torch.zeros(c, len(form["signs"]) + 1),
        "ahead": torch.ones(c, c).triu(1),
    }
    axes = {
        "ids": {1: "pieces"},
        "first": {0: "parts"},
        "last": {0: "parts"},
        "start": {0: "cands"},
        "end": {0: "cands"},
        "inside": {0: "cands", 1: "parts"},
        "signs": {0: "cands"},
        "ahead": {0: "cands", 1: "cands"},
    }
    axes |= (
        {k: {0: "cands"} for k in OUTPUTS[:3]}
        | {"point": {0: "cands", 1: "cands1"}}
        | {k: {0: "parts"} for k in OUTPUTS[4:]}
    )
    torch.onnx.export(
        Whole(model),
        tuple(given.values()),
        str(out / "whole.onnx"),
        input_names=list(given),
        output_names=list(OUTPUTS),
        dynamic_axes=axes,
        opset_version=17,
        dynamo=False,
    )
    quantize_dynamic(
        out / "whole.onnx",
        out / "reader.onnx",
        weight_type=QuantType.QInt8,
        per_channel=True,
        op_types_to_quantize=["MatMul", "Gemm", "Gather"],
    )
    (out / "whole.onnx").unlink()
    (out / "reader.json").write_text(json.dumps(form, indent=0), "utf-8")
    print("reader", (out / "reader.onnx").stat().st_size)


def fold_of(source, folds):
    return zlib.crc32(source.rstrip("0123456789").encode()) % folds if source not in WEAK else -1


def main():
    ask = argparse.ArgumentParser()
    (
        ask.add_argument("examples"),
        ask.add_argument("cut", type=Path),
        ask.add_argument("out", type=Path),
    )
    (
        ask.add_argument("--folds", type=int, default=4),
        ask.add_argument("--rounds", type=int, default=14),
    )
    ask.add_argument("--only", default=""), ask.add_argument("--share", type=float, default=1.0)
    (
        ask.add_argument("--hands", type=float, default=1.0),
        ask.add_argument("--plan", default=""),
        ask.add_argument("--smooth", type=float, default=0.0),
        ask.add_argument("--rate", type=float, default=2e-4),
    )
    ask.add_argument("--held", nargs="*", default=[])
    given = ask.parse_args()
    given.out.mkdir(exist_ok=True)
    memos = json.loads(gzip.decompress(Path(given.examples).read_bytes()))
    kept_out = [m for m in memos if any(m["source"].startswith(h) for h in given.held)]
    memos = [m for m in memos if not any(m["source"].startswith(h) for h in given.held)]
    form = vocabulary(memos)
    tok = Tokenizer.from_file(str(given.cut / "tokenizer.json"))
    confusions = json.loads((Path(__file__).parent / "misheard.json").read_text("utf-8"))
    made = Made(form, tok, confusions)
    cutting = lambda some: [w for m in some for w in windows(m)]
    groups = json.loads(given.plan) if given.plan else None
    sources = sorted({m["source"] for m in memos if m["source"] not in WEAK})
    where = {
        s: next((n for n, g in enumerate(groups) if any(s.startswith(x) for x in g)), -1)
        if groups
        else fold_of(s, given.folds)
        for s in sources
    }
    if given.only != "final":
        for n in range(len(groups) if groups else given.folds):
            mine = [m for m in memos if where.get(m["source"], -1) == n]
            if not mine or (given.only.isdecimal() and int(given.only) != n):
                continue
            rest = [m for m in memos if where.get(m["source"], -1) != n]
            if given.hands < 1:  # fewer hands, each whole
                others = sorted({m["source"] for m in rest if m["source"] not in WEAK})
                random.Random(n).shuffle(others)
                others = others[: int(given.hands * len(others))]
                rest = [m for m in rest if m["source"] in (*others, *WEAK)]
            random.Random(n).shuffle(rest)
            rest = rest[: int(given.share * len(rest))]
            print(
                f"fold {n}: {sorted({m['source'] for m in mine})} by {len(rest)} notes", flush=True
            )
            model = train(cutting(rest), form, given.cut, made, given, 1)
            cut_up = cutting(mine)
            told = predict(model, cut_up, made)
            print("  all", figures(cut_up, told, form))
            for s in sorted({m["source"] for m in mine}):
                pairs = [(m, t) for m, t in zip(cut_up, told, strict=True) if m["source"] == s]
                print(f"  {s}", figures(*map(list, zip(*pairs, strict=True)), form), flush=True)
            keep(given.out / f"fold-{n}.npz", cut_up, told, form)
            (given.out / f"fold-{n}").mkdir(exist_ok=True)
            export(model, form, given.cut, given.out / f"fold-{n}")
    if given.only in ("", "final"):
        model = train(cutting(memos), form, given.cut, made, given, 1)
        if kept_out:
            cut_up = cutting(kept_out)
            print("held out", figures(cut_up, predict(model, cut_up, made), form))
        export(model, form, given.cut, given.out)


def keep(file, memos, told, form):
    """Keep what a reader that had not met these notes takes them for: small whole numbers."""
    small = lambda x: np.round(np.sqrt(x) * 255).astype(np.uint8)
    rows = {
        n: np.concatenate([small(t[n]) for t in told if n in t])
        for n in ("out", "field", "place", "state", "status")
    }
    words = np.frombuffer(
        json.dumps(
            [
                [m["words"], m.get("cut", (0, None)), len(t["state"]), len(m["cands"])]
                for m, t in zip(memos, told, strict=True)
            ]
        ).encode(),
        np.uint8,
    )
    points = np.concatenate([small(t["point"]).ravel() for t in told if "point" in t])
    np.savez_compressed(
        file,
        notes=words,
        form=np.frombuffer(json.dumps(form).encode(), np.uint8),
        point=points,
        **rows,
    )
    print("  kept", file.stat().st_size)


if __name__ == "__main__":
    main()
