"""Keep: export, import with a look before it, backups on a schedule, and the check."""

from __future__ import annotations

import contextlib
import threading
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from capture.errors import CowlnoteError, InputError
from desk import backups, carry, noted, recovery, upkeep
from desk.web import forms
from desk.web.context import Desk, home_desk
from desk.web.papers import opened
from desk.web.sent import said
from record.errors import DamagedError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from desk.web.tasks import Tell

LOOK_S = 600.0  # how often the plan is looked at; a backup that fails is tried as often


def show(request: Request) -> Response:
    """Show when the last good backup was, the plan, and what can be carried out or in."""
    desk = home_desk(request)
    home = desk.settings.home
    now = datetime.now(desk.settings.zone)
    told, bad = backups.told(home, now)
    plan = backups.plan(home)
    going = {
        name: _going(desk, name) for name in ("backup", "check", "export", "verify", "recover")
    }
    return desk.page(
        request,
        "keep.html",
        here="keep",
        told=told,
        bad=bad,
        plan=plan,
        generations=[p.name for p in backups.generations(Path(plan.folder))] if plan.folder else [],
        going=going,
        head=_head(desk),
        home=str(home),
        offered=str(Path.home() / f"cowlnote-export-{now:%Y-%m-%d}"),
    )


def _head(desk: Desk) -> str:
    from record import heads

    with desk.store.session(write=False) as session:
        return heads.shown(*heads.of_record(session))


def _going(desk: Desk, name: str) -> bool:
    task = desk.tasks.get(name)
    return bool(task and task.going)


async def plan(request: Request) -> Response:
    """Keep where backups go, how often, and how many are kept."""
    given = said(request)
    home = home_desk(request).settings.home
    await run_in_threadpool(
        backups.set_plan, home, *(given.get(key, "") for key in ("folder", "days", "kept"))
    )
    return forms.again()


def begin_backup(desk: Desk) -> Any:
    """Begin a backup to the plan's folder in the background; where one goes on, leave it."""
    its = backups.plan(desk.settings.home)
    if not its.folder:
        raise InputError("no folder is named for backups", todo="name one on this page first")

    def work(tell: Tell) -> list[str]:
        made = backups.make(opened(desk), desk.vault, Path(its.folder), its.kept, tell)
        gone = [f"taken away as the oldest: {name}" for name in made.removed]
        told = f"{made.folder}: {made.originals} originals, {made.links} links, read back"
        return [told, *gone]

    return desk.tasks.begin("backup", work)


def watch(desk: Desk) -> None:
    """Make backups when the plan calls for them, for as long as the desk is open."""

    def look() -> None:
        while not desk.runner.ended():
            with contextlib.suppress(CowlnoteError):  # what failed is said on the page
                if backups.is_due(desk.settings.home, datetime.now(desk.settings.zone)):
                    begin_backup(desk)
            time.sleep(LOOK_S)

    threading.Thread(target=look, name="backups", daemon=True).start()


async def backup(request: Request) -> Response:
    """Begin a backup now."""
    return JSONResponse(begin_backup(home_desk(request)).to_json())


@dataclass
class _Looking:
    """Passes on how a check goes."""

    tell: Tell

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Step or file `number` of `files` is being looked at."""
        self.tell(f"{what} {name}".strip(), number / files if files else None)


async def check(request: Request) -> Response:
    """Begin to prove files and record, also against a head kept elsewhere; reads only."""
    given = said(request)
    desk = home_desk(request)
    wanted, _ = upkeep.head_of(given["against"]) if given.get("against") else (None, None)

    def work(tell: Tell) -> list[str]:
        cache = desk.settings.home / "cache"
        found = upkeep.check(
            desk.store,
            desk.vault,
            _Looking(tell),
            against=wanted,
            profiles=noted.profiles(desk.settings.home),
            cache=cache,
        )
        notices = [f"told, and no fault by that alone: {one}" for one in found.notices]
        return [found.counted(), *found.problems, *notices]

    desk.tasks.begin("check", work)
    return forms.words("begun")


async def recover(request: Request) -> Response:
    """Begin to take into the record what lies in the vault without a row."""
    desk = home_desk(request)

    def work(tell: Tell) -> list[str]:
        tell("looking through the vault", None)
        done = recovery.recover(desk.store, desk.vault, desk.settings)
        desk.runner.wake()  # what was taken back is heard and read
        return done.lines()

    return JSONResponse(desk.tasks.begin("recover", work).to_json())


async def models(request: Request) -> Response:
    """Begin to check every byte of the speech models against what is pinned."""
    desk = home_desk(request)

    def work(tell: Tell) -> list[str]:
        from capture import models as rows

        tell("hashing the models", None)
        return [f"{name}: {state}" for name, state in rows.verify(desk.settings.models_dir)]

    return JSONResponse(desk.tasks.begin("verify", work).to_json())


async def export(request: Request) -> Response:
    """Begin to write the whole record to a new folder."""
    given = said(request)
    desk = home_desk(request)
    folder = _folder(given.get("folder", ""))
    with_position = given.get("position") == "yes"

    leave = given.get("damaged") == "leave"

    def work(tell: Tell) -> list[str]:
        tell("writing and proving", None)
        how = {"with_position": with_position, "leave_damaged": leave}
        try:
            done = carry.export(opened(desk), desk.vault, folder, **how)
        except DamagedError as error:
            todo = "put back a good copy, or export the rest"
            raise DamagedError(error.what, error.names, todo) from None
        left = [
            *(f"{name}: not in the vault, so not in the export" for name in done.absent),
            *(f"{name}: not what was kept, so not in the export" for name in done.damaged),
        ]
        of = f"{done.originals} of {done.originals + len(left)}" if left else f"{done.originals}"
        ends = f"{len(left)} left out" if left else "proved"
        return [f"{folder}: {of} originals and {done.links} links of the record, {ends}", *left]

    desk.tasks.begin("export", work)
    return forms.words("begun")


async def look(request: Request) -> Response:
    """Say what an export holds and whether it can be taken in here; takes nothing in."""
    given = said(request)
    desk = home_desk(request)

    def work() -> str:
        return carry.preview(_folder(given.get("folder", "")), desk.settings)

    return forms.words(await run_in_threadpool(work))


async def bring(request: Request) -> Response:
    """Take an export into this home, which must hold no record yet."""
    given = said(request)
    desk = home_desk(request)
    folder = _folder(given.get("folder", ""))

    def work() -> str:
        done = carry.bring_in(folder, desk.settings)
        desk.reload()
        return f"{done.originals} originals and {done.links} links of the record taken in, proved"

    return forms.words(await run_in_threadpool(work))


def _folder(text: str) -> Path:
    path = Path(text).expanduser()
    if not text or not path.is_absolute():
        raise InputError(f"{text or 'nothing'}: name the whole path", todo="as /home/you/folder")
    return path
