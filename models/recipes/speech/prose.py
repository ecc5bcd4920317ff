"""Pick short plain sentences from Debian's fortunes: `prose.py > prose.txt`."""

from __future__ import annotations

import re
import sys
from pathlib import Path

found: set[str] = set()
for name in ("fortunes", "literature", "riddles"):
    text = Path("/usr/share/games/fortunes", name).read_text("utf-8", "ignore")
    for saying in text.split("\n%\n"):
        said = saying.split("\n\t\t-- ")[0]
        for sentence in re.split(r"(?<=[.?!])\s+", " ".join(said.split())):
            plain = re.fullmatch(r"[A-Z][a-z' ,a-zA-Z]+[.?!]", sentence)
            named = re.search(r"[A-Z]{2}| [A-Z][a-z]", sentence)
            if plain and 25 <= len(sentence) <= 110 and not named:
                found.add(sentence)
sys.stdout.write("\n".join(sorted(found)))
