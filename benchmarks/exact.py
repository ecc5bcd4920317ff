"""How many of the values that marked notes state have a candidate of the right value.

`python benchmarks/exact.py FOLDER [--files ace] [--list] [--replaced]`

FOLDER holds notes whose values are marked at the words that state them (`hands-*.txt`) and
`marks.py`, which reads them. A value is there if a candidate that overlaps the marked words has a
reading equal to it in the field's unit: within the tolerance that `marks.py` names, or 1 in 10,000.
A date said without its year counts by day and month, since the recorder's clock knows the year.
Prints the share that is missing, in total, by kind and by file, and what choosing costs: how many
candidates, readings and values there are to choose from. --replaced measures what was said and then
taken back, too; --list names what is missing.
"""

from __future__ import annotations

import argparse
import importlib.util
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from extract.exact.candidates import candidates
from extract.exact.fitted import values_for
from extract.exact.reading import Candidate
from extract.mend.doc import to_doc
from extract.values.catalogue import Catalogue, load
from extract.words.parts import words_of

NOT_EXACT = ("defect", "remark")
SAME = 1e-4


def marks_of(folder: Path) -> Any:
    """Load the module that reads the marks; it lies beside the notes."""
    spec = importlib.util.spec_from_file_location("marks", folder / "marks.py")
    if spec is None or spec.loader is None:
        raise SystemExit(f"{folder / 'marks.py'}: cannot be loaded")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def places(text: str) -> list[tuple[int, int]]:
    """Give where each word of a note begins and ends, as reading cuts it into words."""
    made, at = [], 0
    for word in words_of(text):
        start = text.index(word, at)
        at = start + len(word)
        made.append((start, at))
    return made


def kind_of(name: str) -> str:
    """Give the kind of value that a field holds."""
    special = {"service_date": "date", "filter_part_number": "code", "oil_grade": "grade"}
    return special.get(name, "number")


def same(kind: str, name: str, mine: Decimal | str | date, truth: Any, tolerance: float) -> bool:
    """Say whether a candidate's value is the marked one."""
    if isinstance(mine, Decimal):
        return abs(float(mine) - float(truth)) <= max(tolerance, abs(float(truth)) * SAME)
    if isinstance(mine, date):
        return mine.isoformat() == truth
    return mine.replace(" ", "") == str(truth).replace(" ", "")


def stated(marks: Any, note: dict[str, Any], *, replaced: bool) -> Iterator[Sequence[Any]]:
    """Give the marks of a note that state a number, code, grade or date."""
    for span in note["spans"]:
        _, _, how, name, _, value = span
        if marks.KIND[name] in ("bool", "choice") or name in NOT_EXACT or value is None:
            continue
        if how in ("", "?") or (replaced and how == "~"):
            yield span


def rank_of(
    found: Sequence[Candidate], field: Any, span: Sequence[Any], tolerance: float
) -> tuple[int | None, int]:
    """Give the place of the right value among those of one candidate, and how many it has."""
    best: int | None = None
    many = 0
    _, _, _, name, _, truth = span
    kind = kind_of(name)
    year = int(str(truth)[:4]) if kind == "date" else None
    for candidate in found:
        values = values_for(candidate, field, year)
        for n, value in enumerate(values):
            if same(kind, name, value, truth, tolerance) and (best is None or n < best):
                best, many = n, len(values)
    return best, many


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--files", default="", help="letters of the files; all if none")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--replaced", action="store_true")
    given = parser.parse_args()
    marks, catalogue = marks_of(given.folder), load()
    total: Counter[str] = Counter()
    missing: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    spent = 0.0
    paths = [
        str(p)
        for p in sorted(given.folder.glob("hands-*.txt"))
        if not given.files or p.stem[-1] in given.files
    ]
    for path, line_number, line in marks.read(paths):
        note = marks.note(line)
        begun = time.perf_counter()
        doc = to_doc(note["marked"])
        found = candidates(doc, catalogue)
        spent += time.perf_counter() - begun
        counts["words"] += len(doc._.words)
        counts["notes"] += 1
        counts["candidates"] += len(found)
        counts["readings"] += sum(len(c.readings) for c in found)
        weigh(
            marks, catalogue, note, found, (total, missing, counts), given, Path(path), line_number
        )
    report(total, missing, counts, spent)


def weigh(
    marks: Any,
    catalogue: Catalogue,
    note: dict[str, Any],
    found: Sequence[Candidate],
    sums: tuple[Counter[str], Counter[str], Counter[str]],
    given: argparse.Namespace,
    path: Path,
    line_number: int,
) -> None:
    """Count what one note states and what is missing."""
    total, missing, counts = sums
    at = places(note["marked"])
    for span in stated(marks, note, replaced=given.replaced):
        start, end, _, name, place, truth = span
        field = catalogue.fields.get(name) or catalogue.fields["hobbs_time"]
        over = [c for c in found if at[c.first][0] < end and at[c.last][1] > start]
        tolerance = marks.TOL.get(marks.KIND[name], 0)
        rank, many = rank_of(over, field, span, tolerance)
        for key in ("all", kind_of(name), path.stem):
            total[key] += 1
            missing[key] += rank is None
        counts["values"] += many
        counts["first"] += rank == 0
        if rank is None and given.list:
            said = note["marked"]
            read = [[str(v)[:9] for v in values_for(c, field)] for c in over]
            around = (
                f"{said[max(0, start - 60) : start]}<<{said[start:end]}>>{said[end : end + 40]}"
            )
            print(f"{path.stem[-1]}{line_number} {name}/{place}={truth} {read} :: {around}")


def report(total: Counter[str], missing: Counter[str], counts: Counter[str], spent: float) -> None:
    """Print the shares and what choosing costs."""
    for key in total:
        share = 100 * missing[key] / total[key]
        print(f"{key:8} {total[key]:5} stated, {missing[key]:4} missing, {share:4.1f} %")
    there = total["all"] - missing["all"]
    print(
        f"{100 * counts['candidates'] / counts['words']:.1f} candidates in 100 words, "
        f"{counts['readings'] / counts['candidates']:.2f} readings a candidate, "
        f"{counts['values'] / max(1, there):.2f} values a candidate in its field; "
        f"the first of them is right for {100 * counts['first'] / total['all']:.1f} %"
    )
    print(
        f"{1000 * spent / counts['notes']:.1f} ms a note of "
        f"{counts['words'] / counts['notes']:.0f} words"
    )


if __name__ == "__main__":
    main()
