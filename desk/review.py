"""The walk through the waiting drafts in the terminal: one at a time, doubts first, keys shown."""

from __future__ import annotations

from capture.errors import InputError
from capture.vault import Vault
from desk import say
from desk.opening import Opened
from record import media, queue
from record.errors import RefusedError
from record.queue import Queued

KEYS = "c confirm · a amend · r reject · s skip · q quit"


def walk(here: Opened, vault: Vault, by: str, job: int | None) -> None:
    """Show each waiting draft and do what the person says; what is skipped keeps waiting.

    An end of input ends the walk; every decision made until then is kept.
    """
    with here.store.session(write=False) as session:
        waiting = queue.waiting(session, job)
    if not waiting:
        say.line("nothing is waiting")
        return
    decided = 0
    try:
        while not by.strip():
            by = say.ask("Your name, for the record:")
        for number, queued in enumerate(waiting, 1):
            say.line(f"\n{number} of {len(waiting)}")
            say.drafts([queued], here.catalogue, here.settings.profile.known())
            _say_where(queued, here, vault)
            answer = _decide(queued, here, by)
            if answer == "q":
                break
            decided += answer != "s"
    except EOFError:
        pass
    say.line(f"\n{decided} decided by {by or 'nobody'}, {len(waiting) - decided} still waiting")


def _say_where(queued: Queued, here: Opened, vault: Vault) -> None:
    with here.store.session(write=False) as session:
        found = media.find_media(session, queued.draft.media, queued.job)
    if found is None:
        return
    path = vault.path(found.sha256)
    draft = queued.draft
    if draft.start is None or draft.end is None:
        say.line(f"the photo: {path}")
    else:
        say.line(f"the sound: {path}, second {draft.start:.1f} to {draft.end:.1f}")


def _decide(queued: Queued, here: Opened, by: str) -> str:
    """Ask until a key does something; give the key. A refused or mistyped answer is asked again."""
    draft = queued.draft
    for number, other in enumerate(draft.alternatives, 1):
        say.line(f"  {number} = {say.shown(draft.name, other.value, draft.unit, here.catalogue)}")
    numbers = "1 to take that reading · " if draft.alternatives else ""
    while True:
        key = say.ask(f"[{numbers}{KEYS}]").lower()
        try:
            if key in ("s", "q"):
                return key
            if key == "c":
                with here.store.session() as session:
                    queue.confirm(session, [queued.id], by)
                return key
            if key == "r":
                because = say.ask("Why not?")
                with here.store.session() as session:
                    queue.reject(session, queued.id, by, because)
                return key
            if (key == "a" or key.isdigit()) and _amend(queued, here, by, key):
                return key
        except (InputError, RefusedError) as error:
            say.complain(str(error))


def _amend(queued: Queued, here: Opened, by: str, key: str) -> bool:
    draft = queued.draft
    because = ""
    if key == "a":
        text = say.ask(f"The right value{f' in {draft.unit}' if draft.unit else ''}:")
        because = say.ask("Because:")
    elif 1 <= int(key) <= len(draft.alternatives):
        kind = here.catalogue.fields[draft.name].kind_object
        text = kind.store(draft.alternatives[int(key) - 1].value)
        because = "another reading of the same evidence"
    else:
        return False
    with here.store.session() as session:
        queue.amend(session, queued.id, text, by, because, here.catalogue)
    return True
