"""Marked notes to training examples: words, candidates with their class, stretches with their state.

    python models/recipes/reading/examples.py OUT.json.gz [--heard] [--hands DIR] [--held FILE ...]

Reads `hands/*.txt` (form: the head of marks.py), with `--heard` also what our ears heard of them
(`heard/*.txt`, see heard.py), sentences.json and the cases of tests/extract. Each
note becomes what the trained reader sees (extract/claims/encoder.py): the parts of its words with
their punctuation, and the candidates of the outline, each with

- `out`: the field that it states, or why it states none (`REASONS`), `replaced` where it was taken
  back, `cut` where another candidate has the same number right; None: not said by the mark;
- `field`: the field it is of, also where it is no value;
- `place`, and `to`: the candidate that replaces it.

`states` are stretches of parts with (state, status); `loose` are stretches in which a state is
stated somewhere (notes without marks); `unmarked` says which states the writer was not asked for.
"""

from __future__ import annotations

import gzip
import json
import sys
import tomllib
from decimal import Decimal
from pathlib import Path

HERE = Path(__file__).parent
TOP = HERE.parents[2]
sys.path[:0] = [str(TOP), str(HERE)]

import heard  # noqa: E402
import marks  # noqa: E402
from reading import candidates_of, doc_of, pieces_of, values_of  # noqa: E402

LATE = (
    "defect",
    "remark",
    "old_gasket_removed",
    "gasket_oiled",
    "oil_cap_tight",
    "tools_counted",
    "oil_kind",
)
EARLY_FILES = "abcde"  # their writers were not asked for the late fields
NUMERIC = {n for n, k in marks.KIND.items() if k not in ("bool", "choice")} - {"remark"}


def state_of(name, value):
    if name == "remark":
        return "remark"
    return f"{name} {str(value).lower() if isinstance(value, bool) else value}"


def known(name, value):
    """Say whether a state is one of those that marks can state: not a finding in words, not a due date."""
    return name in marks.KIND and value in marks.CHOICE.get(name, {value})


def same(name, value, want, tol):
    if value is None or want is None:
        return False
    if marks.KIND[name] in ("text", "date"):
        return "".join(c for c in str(value).lower() if c.isalnum()) == "".join(
            c for c in str(want).lower() if c.isalnum()
        )
    slack = 0 if marks.KIND[name] == "h" else abs(float(want)) * 1e-4  # of what was converted
    return abs(float(value) - float(want)) <= max(tol, slack)


def places(text, doc):
    """Map every character of a note to the part it belongs to, -1 for none."""
    owner = [-1] * len(text)
    first = {}
    for k, part in enumerate(doc._.parts):
        first.setdefault(part.word, []).append(k)
    at = 0
    for n, word in enumerate(doc._.words):
        mine = first.get(n, [])
        for c in word.text:
            while at < len(text) and text[at].isspace():
                at += 1
            assert text[at] == c, (text, text[at : at + 20], word.text)
            if mine:
                owner[at] = mine[0] if len(mine) == 1 else -2 - n
            at += 1
    # words of several parts: spread their characters over the parts in order
    for n, mine in first.items():
        spots = [i for i, o in enumerate(owner) if o == -2 - n]
        if not spots:
            continue
        lengths = [max(1, len(doc._.parts[k].text)) for k in mine]
        total, acc, bounds = sum(lengths), 0, []
        for length in lengths:
            acc += length
            bounds.append(acc / total)
        for j, spot in enumerate(spots):
            share = (j + 0.5) / len(spots)
            owner[spot] = mine[next(b for b, edge in enumerate(bounds) if share <= edge)]
    return owner


def spans_of(note, doc):
    """Give the marks of a note as (first part, part behind the last, how, name, place, value)."""
    owner = places(note["marked"], doc)
    for a, b, how, name, place, value in note["spans"]:
        mine = [k for k in owner[a:b] if k >= 0]
        if mine:
            yield min(mine), max(mine) + 1, how, name, place, value


def _rank(cand, name, value, tol):
    """2 where the first of its values is the right one, 1 where another is, 0 where none is."""
    year = int(str(value)[:4]) if name == "service_date" and value else None
    values = values_of(cand, name, year)
    return next((2 if not n else 1 for n, v in enumerate(values) if same(name, v, value, tol)), 0)


def marked(line, source, by_ear=False):
    note = marks.note(line)
    doc = doc_of(note["marked"], by_ear)
    cands = candidates_of(doc)
    spans = list(spans_of(note, doc))
    out = [dict(c, out="none", field=None, place=None, to=None) for c in cands]
    states, chosen = [], {}
    for m, (a, b, how, name, place, value) in enumerate(spans):
        why = (
            how.removeprefix("!")
            if how.startswith("!")
            else {"~": "replaced", "?": None, "": ""}[how]
        )
        if name not in NUMERIC:
            states.append([a, b, state_of(name, value), "stated" if why == "" else why])
            continue
        near = [n for n, c in enumerate(cands) if c["a"] < b and a < c["b"]]
        if not near:
            continue
        tol = marks.TOL.get(marks.KIND[name], 0)

        def fit(n):
            c = cands[n]
            right = _rank(c, name, value, tol)
            shared = min(b, c["b"]) - max(a, c["a"])
            return right, shared - 0.6 * (c["b"] - c["a"] - shared), -n

        best = max(near, key=fit)
        chosen[m] = best
        out[best] |= {
            "out": None if why is None else name if why == "" else why,
            "field": name,
            "place": place,
            "right": int(fit(best)[0]),
        }
        for n in near:
            c = cands[n]
            if n != best and out[n]["out"] == "none" and min(b, c["b"]) - max(a, c["a"]) > 0:
                out[n]["out"] = "cut"
    for m, (_, _, how, name, place, _v) in enumerate(spans):
        if how == "~" and m in chosen:
            later = (
                k
                for k in range(m + 1, len(spans))
                if spans[k][2] in ("", "~")
                and spans[k][3] == name
                and spans[k][4] == place
                and k in chosen
            )
            k = next(later, None)
            if k is not None and chosen[k] != chosen[m]:
                out[chosen[m]]["to"] = chosen[k]
    for c in out:
        if c["out"] == "none":
            c["out"] = "thing"
    early = Path(source).stem.removeprefix("hands-") in EARLY_FILES
    return {
        "source": source,
        "words": note["words"],
        "pieces": pieces_of(doc),
        "cands": out,
        "states": states,
        "loose": [],
        "unmarked": list(LATE) if early else ["oil_kind"] if len(Path(source).stem) == 7 else [],
        "truth": {k: note[k] for k in ("fields", "traps")},
    }


def plain(text):
    return "".join(c for c in text.lower().replace("-", " ") if c.isalnum() or c == " ").split()


def unmarked(memo, source):
    """A note that says what it states, and not where."""
    doc = doc_of(memo["words"])
    cands = [dict(c, out="unstated", field=None, place=None, to=None) for c in candidates_of(doc)]
    taken = set()
    loose = []
    norms = [plain(doc._.words[p.word].text) for p in doc._.parts]
    for truth in memo["fields"]:
        name = {"hobbs_time": "hour_meter_time"}.get(truth["name"], truth["name"])
        said = plain(truth.get("said") or "")
        if name in NUMERIC:
            wants = [truth["value"], *truth.get("also", [])]
            tol = truth.get("tol", marks.TOL.get(marks.KIND[name], 0.05))
            hits = [n for n, c in enumerate(cands) if any(_rank(c, name, w, tol) for w in wants)]
            if said:
                close = [
                    n
                    for n in hits
                    if {w for k in range(cands[n]["a"], cands[n]["b"]) for w in norms[k]}
                    <= set(said)
                ]
                hits = close or hits
            hits = [n for n in hits if n not in taken] or hits
            for n in hits[:1] if len(wants) == 1 else hits:
                cands[n] |= {
                    "out": None if truth.get("optional") else name,
                    "field": name,
                    "place": truth.get("position"),
                    "right": 2,
                }
                taken.add(n)
            continue
        if truth.get("optional") or not known(name, truth["value"]):
            continue
        flat = [(w, k) for k, ws in enumerate(norms) for w in ws]
        span = [0, len(norms)]
        if said:
            for i in range(len(flat) - len(said) + 1):
                if [w for w, _ in flat[i : i + len(said)]] == said:
                    span = [flat[i][1], flat[i + len(said) - 1][1] + 1]
                    break
        if span[1] > span[0]:
            loose.append([*span, state_of(name, truth["value"])])
    for n, c in enumerate(cands):
        if memo.get("doubt") and c["out"] == "unstated":
            c["out"] = None  # it may be what was stated otherwise: the note is to be doubted
        if c["out"] == "unstated" and any(
            n != o and c["a"] < cands[o]["b"] and cands[o]["a"] < c["b"] for o in taken
        ):
            c["out"] = "cut"
    return {
        "source": source,
        "words": memo["words"],
        "pieces": pieces_of(doc),
        "cands": cands,
        "states": [],
        "loose": loose,
        "unmarked": list(LATE),
        "truth": {"fields": memo["fields"], "traps": memo.get("traps", [])},
    }


def cases():
    for file in sorted((TOP / "tests/extract/cases").glob("*.toml")):
        for case in tomllib.loads(file.read_text("utf-8"))["case"]:
            fields = []
            for key, value in case["gives"].items():
                name, _, place = key.partition("/")
                value = float(value) if isinstance(value, Decimal) else value
                fields.append(
                    {
                        "name": name,
                        "value": value,
                        "position": int(place) if place.isdecimal() else place or None,
                    }
                )
            yield {"words": case["say"], "fields": fields, "doubt": case.get("doubt")}


def main(argv):
    made, bad = [], 0
    folder = Path(argv[argv.index("--hands") + 1]) if "--hands" in argv else HERE / "hands"
    held = argv[argv.index("--held") + 1 :] if "--held" in argv else []
    files = sorted(folder.glob("*.txt")) + [Path(f) for f in held]
    for _p, n, line in marks.read(files):
        try:
            made.append(marked(line, Path(_p).stem))
        except (ValueError, AssertionError) as error:
            bad += 1
            print(f"{_p}:{n}: {str(error)[:200]}", file=sys.stderr)
    if "--heard" in argv:
        for source, _ear, _db, line in heard.read(HERE / "heard"):
            made.append(marked(line, source, by_ear=True))
    if "--only" not in argv:
        for memo in json.loads((HERE / "sentences.json").read_text("utf-8")):
            made.append(unmarked(memo, "sentences"))
        made += [unmarked(memo, "cases") for memo in cases()] * 2
    for memo in made:
        for cand in memo["cands"]:
            cand.pop("_", None)
    Path(argv[0]).write_bytes(gzip.compress(json.dumps(made, default=str).encode()))
    stated = [c for m in made for c in m["cands"] if c["field"]]
    right = sum(bool(c.get("right")) for c in stated)
    print(
        f"{len(made)} notes, {bad} left out, {sum(len(m['cands']) for m in made)} candidates, "
        f"{len(stated)} of a field, {right} of the right value, {sum(len(m['states']) for m in made)} states"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
