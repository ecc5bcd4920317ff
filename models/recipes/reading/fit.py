"""Fits the second reader (extract/claims/likeness.py) on sentences with their truth.

    python models/recipes/reading/fit.py [TEXT.json ...] [--out extract/data]

Without names it reads sentences.json beside it (notes that were written for this project by many
hands, invented, with what each states and the traps in it) and the cases of tests/extract/cases.

- Numbers: the class of each is the field whose true value it has, or none; one multinomial logistic
  regression over the words around it.
- States: for each sentence and each state (`drain_closed True`) whether the sentence states it; one
  logistic regression a state over the words of the sentence and its neighbours.

Features that are seen once (numbers) or twice (states) are left out. Prints how often each is right
in every fifth of the notes, fitted on the rest.
"""

from __future__ import annotations

import json
import sys
import tomllib
from decimal import Decimal
from pathlib import Path

import numpy as np
from sklearn.feature_extraction.text import CountVectorizer
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

from extract.claims.amounts import value_of
from extract.claims.likeness import NONE, features, state_features
from extract.exact.quantities import Quantity
from extract.read import statements_of
from extract.talk.outline import VALUES as THINGS
from extract.talk.statements import page
from extract.values.catalogue import load
from extract.words.parts import span_words

HERE = Path(__file__).parent
TOP = HERE.parents[2]
FEWEST = 4  # a state stated less often is not fitted


def notes(names):
    """Read notes: words, and fields with name, value, and the phrase that states each."""
    made = [memo for name in names for memo in json.loads(Path(name).read_text("utf-8"))]
    return made if names else [*json.loads((HERE / "sentences.json").read_text("utf-8")), *cases()]


def cases():
    """Read the table of cases that the rules are tested with as notes."""
    for file in sorted((TOP / "tests/extract/cases").glob("*.toml")):
        for case in tomllib.loads(file.read_text("utf-8"))["case"]:
            fields = [
                {"name": key.split("/")[0], "value": value} for key, value in case["gives"].items()
            ]
            yield {"words": case["say"], "fields": fields}


def plain(text):
    return "".join(c for c in text.lower().replace("-", " ") if c.isalnum() or c == " ").split()


def numbers(read, doc, memo, catalogue):
    """Give (features, class) of every number, code, grade and date of a note."""
    fields = {name: f for name, f in catalogue.fields.items() if f.kind == "number"}
    for i, slot in enumerate(read.slots):
        if slot.norm not in THINGS:
            continue
        # what the rules make of it comes first: two fields with one value, a place run into a value
        values = [(s.name, s.value) for s in doc._.weighed if s.slot == i]
        if isinstance(slot.what, Quantity):
            values += [(name, value_of(field, slot.what)[0]) for name, field in fields.items()]
        mine = (name for name, value in values if has(catalogue.fields[name], name, value, memo))
        yield set(features(read, i)), next(mine, NONE)


def has(field, name, value, memo):
    """Say whether a value is the true one of a field of a note."""
    for truth in memo["fields"]:
        for want in [truth["value"], *truth.get("also", [])] if truth["name"] == name else []:
            if field.kind != "number":
                same = "".join(plain(str(value))) == "".join(plain(str(want)))
            else:
                near = Decimal(str(truth.get("tol", field.step / 2)))
                same = abs(value - Decimal(str(want))) <= near
            if same:
                return True
    return False


def states(read, doc, memo, catalogue):
    """Give (features, states) of every sentence of a note."""
    said = []
    for a, b in read.bounds:
        first, last = span_words(doc._.parts, read.slots[a].start, read.slots[b - 1].end)
        said.append(plain(" ".join(word.text for word in doc._.words[first : last + 1])))
    stated = [set() for _ in said]
    for truth in memo["fields"]:
        field = catalogue.fields[truth["name"]]
        if field.kind not in ("truth", "choice") or truth.get("optional") or not said:
            continue
        phrase = set(plain(truth.get("said") or memo["words"]))
        k = max(range(len(said)), key=lambda k: len(phrase & set(said[k])) / len(phrase))
        stated[k].add(f"{truth['name']} {truth['value']}")
    for n in range(len(said)):
        yield set(state_features(read, n)), stated[n]


def keep(file, words, classes, weights, bias):
    np.savez_compressed(
        file,
        features=np.frombuffer("\n".join(words).encode(), np.uint8),
        classes=np.frombuffer("\n".join(classes).encode(), np.uint8),
        weights=weights.astype(np.float16),
        bias=bias.astype(np.float32),
    )
    print(f"{file.name}: {len(words)} features, {file.stat().st_size // 1000} kB")


def main(argv):
    out = Path(argv[argv.index("--out") + 1]) if "--out" in argv else TOP / "extract" / "data"
    catalogue = load()
    around, classes, whose, sentences, stated, of = [], [], [], [], [], []
    memos = notes([a for a in argv if a.endswith(".json")])
    for memo in memos:
        doc = statements_of(memo["words"], catalogue, None)
        read = page(doc._.outline, catalogue)
        for found, name in numbers(read, doc, memo, catalogue):
            around.append(found)
            classes.append(name)
            whose.append(memo["words"])
        for found, names in states(read, doc, memo, catalogue):
            sentences.append(found)
            stated.append(names)
            of.append(memo["words"])
    print(f"{len(memos)} notes, {len(classes)} numbers, {len(sentences)} sentences")

    words = CountVectorizer(analyzer=sorted, min_df=2)
    x, y = words.fit_transform(around), np.array(classes)
    model = LogisticRegression(C=2.0, max_iter=3000)
    right = [
        (model.fit(x[train], y[train]).predict(x[test]) == y[test]).mean()
        for train, test in GroupKFold(5).split(x, y, whose)
    ]
    print("numbers right:", " ".join(f"{r:.3f}" for r in right))
    model.fit(x, y)
    keep(
        out / "likeness_numbers.npz",
        words.get_feature_names_out(),
        model.classes_,
        model.coef_.T,
        model.intercept_,
    )

    words = CountVectorizer(analyzer=sorted, min_df=3)
    x = words.fit_transform(sentences)
    names = sorted({name for some in stated for name in some})
    columns = {n: np.array([n in some for some in stated]) for n in names}
    columns = {n: column for n, column in columns.items() if column.sum() >= FEWEST}
    found = wrong = missed = 0
    for train, test in GroupKFold(5).split(x, None, of):
        for column in columns.values():
            said = LogisticRegression(C=2.0, max_iter=2000).fit(x[train], column[train])
            guess = said.predict(x[test])
            found += (guess & column[test]).sum()
            wrong += (guess & ~column[test]).sum()
            missed += (~guess & column[test]).sum()
    print(f"states: {found} found, {wrong} wrongly, {missed} missed")
    fits = [LogisticRegression(C=2.0, max_iter=2000).fit(x, c) for c in columns.values()]
    keep(
        out / "likeness_states.npz",
        words.get_feature_names_out(),
        list(columns),
        np.hstack([f.coef_.T for f in fits]),
        np.hstack([f.intercept_ for f in fits]),
    )


if __name__ == "__main__":
    main(sys.argv[1:])
