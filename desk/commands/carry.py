"""Out and back in: `export`, `import`, `backup`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from capture.errors import ExitCode, InputError
from desk import opening, say


def add_to(app: typer.Typer) -> None:
    """Add these commands to the program."""
    app.command()(export)
    app.command()(backup)
    app.command("import")(import_)


def export(
    ctx: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    with_position: Annotated[
        bool, typer.Option("--with-position", help="Leave in the files where they were taken.")
    ] = False,
    leave_damaged: Annotated[
        bool, typer.Option("--leave-damaged", help="Leave out, and name, what is damaged.")
    ] = False,
) -> None:
    """Write the whole record to a new folder (BagIt) that needs no program to be read."""
    from capture.vault import Vault
    from desk.carry import export as write

    with opening.record(ctx.obj, read_only=True) as here:
        vault = Vault(here.settings.vault_dir)
        done = write(here, vault, folder, with_position=with_position, leave_damaged=leave_damaged)
    left = len(done.absent) + len(done.damaged)
    originals = say.counted(done.originals + left, "original")
    say.line(
        f"{folder}: {f'{done.originals} of ' if left else ''}{originals}"
        f" and {say.counted(done.links, 'link')} of the record"
        + (f"; {left} left out" if left else ", proved")
    )
    if done.without_position:
        say.line(f"position taken out of {say.counted(done.without_position, 'copy', 'copies')}")
    for name in done.absent:
        say.complain(f"{name}: not in the vault, so not in the export; `cowlnote check` says more")
    for name in done.damaged:
        say.complain(f"{name}: not what was kept, so not in the export; put back a good copy")
    if left:
        raise typer.Exit(ExitCode.LEFT)


def import_(
    ctx: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="What `export` wrote.")],
) -> None:
    """Take an export into an empty home; the same record, proved before and after."""
    from desk.carry import bring_in

    done = bring_in(folder, opening.settings(ctx.obj))
    say.line(
        f"{say.counted(done.originals, 'original')} and {say.counted(done.links, 'link')} of the "
        "record taken in, proved"
    )
    if done.without_position:
        say.line(
            f"{say.counted(done.without_position, 'copy', 'copies')} without position; the hash "
            "of each original is kept beside it"
        )
    for name in done.absent:
        say.complain(f"{name}: not in the export, so not taken in; look for it where that was made")
    if done.absent:
        raise typer.Exit(ExitCode.LEFT)


def backup(
    ctx: typer.Context,
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Where; kept as the plan.")
    ] = None,
    days: Annotated[
        int | None, typer.Option(help="An open desk makes one every so many days; 0: by hand.")
    ] = None,
    kept: Annotated[int | None, typer.Option(help="How many are kept.")] = None,
) -> None:
    """Make a backup, read it back, and take away the oldest beyond those that are kept."""
    from capture.vault import Vault
    from desk import backups

    with opening.record(ctx.obj) as here:
        home = here.settings.home
        plan = backups.plan(home)
        if folder is not None or days is not None or kept is not None:
            where = str(folder.absolute()) if folder is not None else plan.folder
            told = (plan.days if days is None else days, plan.kept if kept is None else kept)
            plan = backups.set_plan(home, where, *map(str, told))
        if not plan.folder:
            raise InputError("no folder is named", todo="cowlnote backup FOLDER, on another disk")
        vault = Vault(here.settings.vault_dir)
        made = backups.make(here, vault, Path(plan.folder), plan.kept, say.fetching)
    say.line(
        f"{made.folder}: {say.counted(made.originals, 'original')} and "
        f"{say.counted(made.links, 'link')} of the record, read back"
    )
    for name in made.removed:
        say.line(f"taken away as the oldest: {name}")
