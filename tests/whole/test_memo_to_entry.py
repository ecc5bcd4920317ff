"""From memos to a closed job by the command line alone, the engines being stand-ins."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

PROGRAM = Path(__file__).with_name("stand_in.py")
TOP = PROGRAM.parent.parent.parent
WHO = "Ines Invented"


def test_memos_to_a_closed_job(tmp_path, sound, photo):
    for number in (1, 2, 3, 4):
        sound(tmp_path / "phone" / f"REC_20260314_09100{number}.wav", 200 + 50 * number)
    photo(tmp_path / "phone" / "IMG_1.jpg", "2026:03:14 09:12:00")

    def cowlnote(*args: object) -> str:
        ran = subprocess.run(
            [sys.executable, str(PROGRAM), "--home", str(tmp_path / "home"), *map(str, args)],
            cwd=TOP,
            env={**os.environ, "PYTHONPATH": str(TOP)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert ran.returncode == 0, ran.stderr
        return ran.stdout

    cowlnote("begin", "N0417Q", "--zone", "America/Chicago")
    assert json.loads(cowlnote("intake", tmp_path / "phone", "--json"))["taken"] == 5
    drafts = {d["name"]: d["id"] for d in json.loads(cowlnote("drafts", "--json"))}
    amended = drafts.pop("oil_added")
    cowlnote("amend", amended, "7.5", "--by", WHO, "--because", "read the bottles")
    cowlnote("confirm", *drafts.values(), "--by", WHO)
    cowlnote("add", "service_date", "2026-03-14", "--by", WHO)
    entry = " ".join(cowlnote("entry").split())
    for told in (
        "Aircraft N0417Q Date completed 2026-03-14 Tach time 2345.6 h",
        "Torqued the filter to 17 ft-lb. Serviced with 7.5 qt of oil. Cowling refitted.",
        "amended by Ines Invented, because read the bottles",
        "NOT CONFIRMED, complete or strike out before signing:",
    ):
        assert told in entry
    assert cowlnote("entry", "--filter-note") == "N0417Q  2026-03-14  TACH 2345.6 h\n"
    assert "REC_20260314_091002.wav 0:00  torqued the filter" in cowlnote("find", "torqued")
    cowlnote("close", 1, "--by", WHO, "--because", "a trial")
    assert "0 problems" in cowlnote("check")
    assert json.loads(cowlnote("jobs", "--json"))[0]["closed_by"] == WHO
