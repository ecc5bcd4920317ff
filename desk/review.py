"""The walk through the waiting drafts in the terminal: one at a time, doubts first, keys shown.

What is decided names what was shown. A value that somebody else changed meanwhile is shown again.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from capture.errors import InputError
from capture.vault import Vault
from desk import naming, player, say
from desk.opening import Opened
from desk.readback.beside import Beside
from record import media, queue
from record.errors import DoubtedError, RefusedError, ReplacesError, StaleError
from record.queue import Queued

KEYS = "c confirm · a amend · r reject · p play · u undo the last · s skip · q quit"
SKIPPED, LEFT, BACK = "s", "q", "u"


@dataclass
class Walk:
    """One walk: who decides, and what was decided in it so far, the newest last."""

    here: Opened
    vault: Vault
    by: str
    done: list[int] = field(default_factory=list)

    def told(self, queued: Queued, session: Any) -> dict[str, Any]:
        """Give what a decision names: what is shown of a draft, and what it is weighed by."""
        one = naming.listed(session, self.here, queued.number)
        return {"seen": one.seen, "known": one.known}


def walk(here: Opened, vault: Vault, by: str, job: int | None) -> None:
    """Show each waiting draft and do what the person says; what is skipped keeps waiting.

    An end of input ends the walk; every decision made until then is kept.
    """
    with here.store.session(write=False) as session:
        waiting = queue.waiting(session, job)
    if not waiting:
        say.line("nothing is waiting")
        return
    now = Walk(here, vault, by)
    try:
        while not now.by.strip():
            now.by = say.ask("Your name, for the record:")
        at = 0
        while at < len(waiting):
            say.line(f"\n{at + 1} of {len(waiting)}")
            answer = _one(now, waiting[at].id)
            if answer == LEFT:
                break
            if answer == BACK:
                back = now.done.pop()
                at = next(i for i, one in enumerate(waiting) if one.id == back)
                continue
            if answer != SKIPPED:
                now.done.append(waiting[at].id)
            at += 1
    except EOFError:
        pass
    left = len(waiting) - len(now.done)
    say.line(f"\n{len(now.done)} decided by {now.by or 'nobody'}, {left} still waiting")


def _one(now: Walk, draft: int) -> str:
    """Show a draft as it is now, and ask until a key does something; give the key."""
    with now.here.store.session(write=False) as session:
        queued = queue.get(session, draft)
        if queued.state != queue.WAITING:  # somebody else was quicker
            say.line(f"draft {queued.number} is {queued.state} already")
            return SKIPPED
        seen = now.told(queued, session)["seen"]
        beside = Beside.of(now.here.settings.home, session, [queued.job], now.here.catalogue)
        told = {queued.id: beside.said(queued.draft, queued.job)}
        found = media.find_media(session, queued.draft.media, queued.job)
    shown = queued.draft.with_doubt(*seen.doubts)
    queued = replace(queued, draft=shown)
    say.drafts([queued], now.here.catalogue, now.here.settings.profile.known(), told)
    _say_where(queued, found)
    for number, other in enumerate(queued.draft.alternatives, 1):
        value = say.shown(shown.name, other.value, shown.unit, now.here.catalogue)
        say.line(f"  {number} = {value}")
    numbers = "1 to take that reading · " if queued.draft.alternatives else ""
    while True:
        key = say.ask(f"[{numbers}{KEYS}]").lower()
        try:
            if answer := _act(now, queued, found, key, seen):
                return answer
        except StaleError as error:
            say.complain(str(error))
            return _one(now, draft)  # as it is now
        except (InputError, RefusedError) as error:
            say.complain(str(error))


def _say_where(queued: Queued, found: media.Media | None) -> None:
    """Name the file that a value is from, by the name it came with."""
    draft = queued.draft
    if found is None:
        return
    if draft.start is None or draft.end is None:
        say.line(f"the photo: {found.original}")
    else:
        say.line(f"the sound: {found.original}, second {draft.start:.1f} to {draft.end:.1f}")


def _act(now: Walk, queued: Queued, found: media.Media | None, key: str, seen: Any) -> str:
    """Do what a key says; give it where this draft is done with, else nothing."""
    if key in (SKIPPED, LEFT):
        return key
    if key == "p":
        _play(now, queued, found)
    elif key == "u":
        return _undo(now)
    elif key == "c":
        _confirm(now, queued, seen)
        return key
    elif key == "r":
        because = say.ask("Why not?")
        with now.here.store.session() as session:
            catalogue = now.here.catalogue
            queue.reject(session, queued.id, now.by, because, seen=seen, catalogue=catalogue)
        return key
    elif key == "a" or key.isdigit():
        return key if _amend(now, queued, key, seen) else ""
    return ""


def _play(now: Walk, queued: Queued, found: media.Media | None) -> None:
    draft = queued.draft
    if found is None or draft.start is None or draft.end is None:
        raise InputError("this one has no sound", todo="look at the picture on the page")
    player.play(now.vault.proved(found.sha256), draft.start, draft.end)


def _undo(now: Walk) -> str:
    if not now.done:
        raise RefusedError("nothing was decided in this walk yet")
    with now.here.store.session() as session:
        last = naming.listed(session, now.here, queue.get(session, now.done[-1]).number)
        catalogue = now.here.catalogue
        queue.undo(session, last.draft.id, now.by, seen=last.seen, catalogue=catalogue)
    say.line(f"draft {last.draft.number} is no longer {last.draft.state}")
    return BACK


def _confirm(now: Walk, queued: Queued, seen: Any) -> None:
    def enter(**more: Any) -> None:
        with now.here.store.session() as session:
            told = now.told(queued, session) | {"seen": {queued.id: seen}}
            catalogue = now.here.catalogue
            queue.confirm(session, [queued.id], now.by, catalogue=catalogue, **told, **more)

    try:
        enter()
    except ReplacesError as error:
        enter(**_replacing(error))


def _replacing(error: ReplacesError) -> dict[str, Any]:
    """Ask why a value takes the place of the one that is entered."""
    say.line(error.what)
    return {"replaces": [error.entry], "because": say.ask("To replace it, say why:")}


def _amend(now: Walk, queued: Queued, key: str, seen: Any) -> bool:
    draft = queued.draft
    kind = now.here.catalogue.fields[draft.name]
    if key == "a":
        unit = kind.own_unit or draft.unit
        text = say.ask(f"The right value{f' in {unit}' if unit else ''}:")
        because = say.ask("Because:")
    elif 1 <= int(key) <= len(draft.alternatives):
        text = kind.typing(draft.alternatives[int(key) - 1].value)
        because = "another reading of the same evidence"
    else:
        return False
    more: dict[str, Any] = {"because": because}
    while True:
        try:
            with now.here.store.session() as session:
                told = now.told(queued, session) | {"seen": seen, **more}
                queue.amend(session, queued.id, text, now.by, catalogue=now.here.catalogue, **told)
            return True
        except DoubtedError as error:
            say.line(error.what)
            again = say.ask("If it is right, type it once more:")
            if again != text:
                raise InputError(f"first it was {text}, then {again}", todo="begin anew") from None
            more["although"] = say.ask("It is right, because:")
            if not more["although"]:
                raise
        except ReplacesError as error:
            replacing = _replacing(error)
            more |= {"replaces": replacing["replaces"]}
            if not replacing["because"]:
                raise
            more["because"] = f"{because}; {replacing['because']}"
