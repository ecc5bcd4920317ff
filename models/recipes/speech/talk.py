"""Give the sentences of marked notes that hold no figures, one a line: `talk.py > talk.txt`.

    talk.py ../reading/hands/hands-[a-q]*.txt > talk.txt

What the marks say is left out; what was said remains. The notes of hands r, of a later hand, speak
in a set to tune on and are not taken.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "reading"))

import marks

found: dict[str, None] = {}
for _, _, line in marks.read([Path(name) for name in sys.argv[1:]]):
    for sentence in re.split(r"(?<=[.?!])\s+", marks.note(line)["words"].strip()):
        if re.fullmatch(r"[A-Za-z][A-Za-z' ,.;:?!-]+", sentence) and len(sentence.split()) < 40:
            found[sentence] = None
sys.stdout.write("\n".join(found))
