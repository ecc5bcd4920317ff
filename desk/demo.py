"""The demo: one invented service from its memos and photos to the draft entry, in a temporary home."""

from __future__ import annotations

import tempfile
from pathlib import Path

from capture.errors import ExitCode, InputError
from capture.vault import Vault
from desk import engines, lookup, opening, papers, say
from desk.intake import take_in
from record import jobs, queue
from record.service import service

MEDIA = Path(__file__).resolve().parent.parent / "demo_media"
PERSON = "Robin Vale (invented)"


def run() -> ExitCode:
    """Take the demo in, show its drafts, confirm the undoubted as an invented person, print the papers.

    Raises:
        InputError: the demo's media are not there; they come with a checkout.
        ModelMissingError: the speech model is not there.
    """
    if not (MEDIA / "aircraft.toml").is_file():
        raise InputError("the demo's memos and photos are not there", MEDIA, "run from a checkout")
    home = Path(tempfile.mkdtemp(prefix="cowlnote-demo-"))
    (home / "aircraft.toml").write_bytes((MEDIA / "aircraft.toml").read_bytes())
    say.line("Everything here is invented: aircraft, club, people, part and figures.\n")
    with opening.record(home) as here, say.terminal() as report:
        files = sorted(p for p in MEDIA.iterdir() if p.suffix in {".m4a", ".ogg", ".jpg"})
        summary = take_in(
            files,
            here.settings,
            here.store,
            Vault(here.settings.vault_dir),
            engines.LateEar(here.settings),
            engines.LateEye(here.settings),
            report,
            here.catalogue,
        )
    say.summary(summary)
    if summary.code == ExitCode.MODEL:
        return summary.code
    with opening.record(home) as here:
        with here.store.session() as session:
            job = lookup.newest(jobs.jobs(session))
            drafts = queue.drafts(session, job)
        say.line("\nWHAT WAS UNDERSTOOD, doubts first\n")
        say.drafts(drafts, here.catalogue)
        sure = [q.id for q in drafts if not q.draft.doubts]
        with here.store.session() as session:
            queue.confirm(session, sure, PERSON)
            found = service(session, job, here.catalogue)
        doubtful = len(drafts) - len(sure)
        say.line(
            f"\n{PERSON} has confirmed {say.counted(len(sure), 'draft')} without doubts; "
            f"{doubtful} with doubts {'waits' if doubtful == 1 else 'wait'} for a look.\n"
        )
        say.line(papers.service_record(found, here.settings.profile, here.catalogue))
        say.line()
        say.line(papers.logbook_entry(found, here.settings.profile, here.catalogue))
    say.line(f"\nThe demo's home: {home}")
    say.line(f"Go on with `cowlnote --home {home} review`; delete the folder when done.")
    return summary.code
