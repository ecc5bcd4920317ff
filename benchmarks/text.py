"""How rightly written words become drafts: a set's sentences through `cowlnote try --json -`.

`python benchmarks/text.py --set DIR [--scorer FILE] [--list]`

DIR holds `text.json` (see benchmarks/scoring.py). One sentence or memo a line goes in, one array of
drafts a line comes out. Prints the set's scorer's figures; --list adds all drafts that are wrong.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

from scoring import machine, memos_of, score, scorer_of, tried


def main() -> None:
    """Run, score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--set", type=Path, required=True)
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args()
    scorer = scorer_of(given.set, given.scorer)
    truth = given.set / "text.json"
    memos = memos_of(truth)
    begun = time.perf_counter()
    lines = tried(["-"], words="".join(" ".join(memo["words"].split()) + "\n" for memo in memos))
    took = time.perf_counter() - begun
    drafts = [
        {**draft, "media": memo["id"]}
        for memo, line in zip(memos, lines, strict=True)
        for draft in json.loads(line)
    ]
    print(machine())
    print(f"{len(memos)} lines in {took:.1f} s, the start of the program included\n")
    print(score(truth, drafts, scorer, listed=given.list), end="")


if __name__ == "__main__":
    main()
