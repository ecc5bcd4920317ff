"""Cuts a general English encoder to the words that the trained reader needs.

    python models/recipes/reading/cut.py MODEL_DIR EXAMPLES.json.gz OUT_DIR [TOKENIZER]

MODEL_DIR holds model.safetensors and tokenizer.json of all-MiniLM-L6-v2 (Apache-2.0; see README.md).
Kept are single characters, the word pieces that the examples use, and the commonest whole words
(word pieces are numbered by how common they are). Writes weights.npz (half precision) and
tokenizer.json. TOKENIZER is one that was cut before, whose pieces are kept as they are (three of them
were emptied by hand, for they are names of a person and of makers). What was cut away is still read, piece by piece, down to single letters.
"""

from __future__ import annotations

import gzip
import json
import struct
import sys
from pathlib import Path

import numpy as np
from tokenizers import Tokenizer

COMMONEST = 7000  # ids up to here: words, and pieces, that general English uses most
POSITIONS = 320


def tensors(file):
    with file.open("rb") as f:
        head = json.loads(f.read(struct.unpack("<Q", f.read(8))[0]))
        start = f.tell()
        for name, what in head.items():
            if name == "__metadata__":
                continue
            f.seek(start + what["data_offsets"][0])
            raw = f.read(what["data_offsets"][1] - what["data_offsets"][0])
            yield (
                name,
                np.frombuffer(raw, {"F32": np.float32, "I64": np.int64}[what["dtype"]]).reshape(
                    what["shape"]
                ),
            )


def main(model, examples, out, before=None):
    model, out = Path(model), Path(out)
    out.mkdir(exist_ok=True)
    whole = Tokenizer.from_file(str(model / "tokenizer.json"))
    whole.no_padding()
    whole.no_truncation()
    used = set()
    for memo in json.loads(gzip.decompress(Path(examples).read_bytes())):
        used |= set(whole.encode([p for p, _ in memo["pieces"]], is_pretokenized=True).ids)
    form = json.loads((model / "tokenizer.json").read_text("utf-8"))
    vocab = form["model"]["vocab"]
    kept = []
    for word, i in sorted(vocab.items(), key=lambda item: item[1]):
        bare = word.removeprefix("##")
        plain = word.isascii() and not word.startswith("[unused")
        if i in used or (
            plain
            and (len(bare) == 1 or i < COMMONEST or word in ("[PAD]", "[UNK]", "[CLS]", "[SEP]"))
        ):
            kept.append((word, i))
    if before:
        held = json.loads(Path(before).read_text("utf-8"))["model"]["vocab"]
        kept = [(word, vocab[word]) for word in sorted(held, key=held.get)]
    print(f"{len(kept)} of {len(vocab)} word pieces, {len(used)} of them used")
    form["model"]["vocab"] = {word: n for n, (word, _) in enumerate(kept)}
    form["truncation"] = form["padding"] = None
    new = form["model"]["vocab"]
    form["added_tokens"] = [
        t | {"id": new[t["content"]]} for t in form["added_tokens"] if t["content"] in new
    ]
    for special in form["post_processor"].get("special_tokens", {}).values():
        special["ids"] = [new[t] for t in special["tokens"]]
    for key in ("sep", "cls"):
        if key in form["post_processor"]:
            form["post_processor"][key][1] = new[form["post_processor"][key][0]]
    (out / "tokenizer.json").write_text(json.dumps(form, ensure_ascii=False), "utf-8")
    made = {}
    for name, weights in tensors(model / "model.safetensors"):
        if name == "embeddings.word_embeddings.weight":
            weights = weights[[i for _, i in kept]]
        elif name == "embeddings.position_embeddings.weight":
            weights = weights[:POSITIONS]
        elif name.startswith("pooler") or name.endswith("position_ids"):
            continue
        made[name] = weights.astype(np.float16)
    np.savez_compressed(out / "weights.npz", **made)
    again = Tokenizer.from_file(str(out / "tokenizer.json"))
    print(
        again.encode(
            ["torqued", "to", "seventeen", "foot", "pounds", ".", "zyzzyva"], is_pretokenized=True
        ).tokens
    )


if __name__ == "__main__":
    main(*sys.argv[1:5])
