"""The demo: one invented service, from memos and photos to the draft entry, in a temporary home."""

from __future__ import annotations

import tempfile
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from capture.errors import ExitCode, InputError
from capture.vault import Vault
from desk import engines, lookup, opening, papers, say
from desk.intake import Summary, take_in
from desk.opening import Opened
from record import jobs, queue
from record.queue import Queued
from record.service import service

BESIDE = Path(__file__).resolve().parent.parent / "demo_media"
MEDIA = BESIDE if BESIDE.is_dir() else Path(__file__).resolve().parent / "demo_media"
"""The invented memos and photos: a checkout's own, or those inside the package once installed."""
PERSON = "Robin Vale (invented)"


def run() -> ExitCode:
    """Take the demo in, show its drafts, decide them as an invented person, print the papers.

    The person knows what was said (`truth.toml`): a draft that is right is confirmed, one that is
    not is amended, one that nobody said is rejected. What was not understood stays missing.

    Raises:
        InputError: the demo's media are not there.
    """
    if not (MEDIA / "truth.toml").is_file():
        raise InputError("the demo's memos and photos are not there", MEDIA, "install it anew")
    home = Path(tempfile.mkdtemp(prefix="cowlnote-demo-"))
    (home / "aircraft.toml").write_bytes((MEDIA / "aircraft.toml").read_bytes())
    say.line("Everything here is invented: aircraft, club, people, part and figures.\n")
    with opening.record(home) as here:
        summary = _take_in(here)
        say.summary(summary, here.catalogue)
        if summary.code == ExitCode.MODEL:
            return summary.code
        with here.store.session(write=False) as session:
            job = lookup.newest(jobs.jobs(session))
            drafts = queue.drafts(session, job)
        say.line("\nWHAT WAS UNDERSTOOD, doubts first\n")
        say.drafts(drafts, here.catalogue, here.settings.profile.known())
        done = Counter(_decide(here, queued, truth()) for queued in drafts)
        say.line(
            f"\n{PERSON}, who knows what was said, confirmed {done['confirmed']}, "
            f"amended {done['amended']} and rejected {done['rejected']}.\n"
        )
        with here.store.session(write=False) as session:
            found = service(session, job, here.catalogue)
        say.line(papers.service_record(found, here.settings.profile, here.catalogue))
        say.line(f"\n{papers.logbook_entry(found, here.settings.profile, here.catalogue)}")
    say.line(f"\nThe demo's home, yours to look at and delete: {home}")
    return summary.code


def _take_in(here: Opened) -> Summary:
    files = sorted(p for p in MEDIA.iterdir() if p.suffix in {".m4a", ".ogg", ".jpg"})
    vault = Vault(here.settings.vault_dir)
    ear, eye = engines.LateEar(here.settings), engines.LateEye(here.settings)
    with say.terminal() as report:
        return take_in(files, here.settings, here.store, vault, ear, eye, report, here.catalogue)


def truth() -> dict[str, str]:
    """Give what was said and shown in the demo, by field, as a person would type it."""
    raw = tomllib.loads((MEDIA / "truth.toml").read_text("utf-8"))
    return {
        field["name"]: _typed(field["value"])
        for one in (*raw["memo"], *raw["photo"])
        for field in one["fields"]
    }


def _typed(value: Any) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _decide(here: Opened, queued: Queued, said: dict[str, str]) -> str:
    draft = queued.draft
    with here.store.session() as session:
        if draft.name not in said:
            queue.reject(session, queued.id, PERSON, "nobody said this")
            return "rejected"
        kind = here.catalogue.fields[draft.name].kind_object
        if kind.same(draft.value, kind.parse(said[draft.name])):
            queue.confirm(session, [queued.id], PERSON)
            return "confirmed"
        because = "listened to it again"
        queue.amend(session, queued.id, said[draft.name], PERSON, because, here.catalogue)
        return "amended"
