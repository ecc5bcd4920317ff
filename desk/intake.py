"""The run: keep each file, date it, hear or read it, draft, fuse, doubt, queue. Knows no screen.

Every step leaves its result in the vault or the store before the next begins, so a run that was
killed goes on where it was, and one bad file does not stop the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Protocol

from capture.errors import (
    AlteredError,
    CowlnoteError,
    DiedError,
    ExitCode,
    InputError,
    ModelMissingError,
)
from capture.observed import Instant, Kept
from capture.regular import spelt
from capture.trying import MOST, Trying
from capture.vault import ENDS, Vault, kind_of
from desk import drafting, observe, placing, recorders, recovery, understood
from desk.hearings import Hearings
from desk.settings import Settings
from desk.trial import try_input as try_input
from desk.understood import Lost
from extract.values.catalogue import Catalogue
from record import jobs, queue
from record import media as rows
from record.media import Media
from record.store import Store

LONGEST = 400  # letters of a path that is named; its end tells more
DIED = "reading it ended the program twice, and it is set aside"


class Report(Protocol):
    """Who is told how a run goes. Methods return nothing and must not fail."""

    def begins(self, files: int, foreign: int) -> None:
        """There are so many memos and photos, and so many other files that are passed over."""

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """File `number` of `files` is being kept, heard or read."""

    def share(self, name: str, share: float) -> None:
        """So much of the file is done, 0 to 1."""

    def left(self, name: str, why: str) -> None:
        """A file could not be taken, in one line."""

    def lost(self, what: Lost) -> None:
        """Nothing, or too little, was understood in a memo or photo."""

    def notice(self, line: str) -> None:
        """Something the person should know; nothing is lost."""


@dataclass(frozen=True, slots=True)
class JobDone:
    """What a run did for one job: the files that it brought, and what was understood of all."""

    id: int
    aircraft: str | None
    kind: str
    day: date | None
    files: tuple[str, ...]
    drafts: int
    doubtful: int
    lost: tuple[Lost, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Give it JSON-ready; `nothing_understood` as objects of `file` and `why`."""
        return {
            "job": self.id,
            "aircraft": self.aircraft,
            "kind": self.kind,
            "day": self.day.isoformat() if self.day else None,
            "files": list(self.files),
            "drafts": self.drafts,
            "doubtful": self.doubtful,
            "nothing_understood": [{"file": one.name, "why": one.why} for one in self.lost],
        }


@dataclass(slots=True)
class Summary:
    """How a run ended: counts of files, what was left and why, and each job that it added to."""

    taken: int = 0
    already: int = 0
    foreign: int = 0
    memos: int = 0
    photos: int = 0
    done: list[JobDone] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    code: ExitCode = ExitCode.DONE

    @property
    def jobs(self) -> list[int]:
        """Give the numbers of the jobs, lowest first."""
        return [one.id for one in self.done]

    @property
    def drafts(self) -> int:
        """Give how many drafts there are of all jobs."""
        return sum(one.drafts for one in self.done)

    @property
    def doubtful(self) -> int:
        """Give how many of the drafts are doubtful."""
        return sum(one.doubtful for one in self.done)

    def to_json(self) -> dict[str, Any]:
        """Give it JSON-ready, `left` as objects of `file` and `why`."""
        keys = ("taken", "already", "foreign", "memos", "photos", "drafts", "doubtful", "jobs")
        return {
            **{key: getattr(self, key) for key in keys},
            "by_job": [one.to_json() for one in self.done],
            "left": [{"file": name, "why": why} for name, why in self.left],
        }


@dataclass(frozen=True, slots=True)
class Run:
    """What one intake works with, so that its steps need not be handed each thing singly."""

    settings: Settings
    store: Store
    vault: Vault
    ear: observe.Ear
    eye: observe.Eye
    report: Report
    catalogue: Catalogue
    summary: Summary
    trying: Trying
    shift: timedelta = timedelta(0)
    aside: set[int] = field(default_factory=set)

    def leave(self, file: str | Path, error: CowlnoteError) -> None:
        """Note that a file could not be taken, and go on."""
        name = spelt(file)
        name = name if len(name) <= LONGEST else f"…{name[-LONGEST:]}"
        # the file is named once: the reason may carry the path in the vault, which nobody knows
        why = "; ".join(filter(None, (error.what, error.todo)))
        told = isinstance(error, ModelMissingError) and why in dict(self.summary.left).values()
        self.summary.left.append((name, why))
        if isinstance(error, ModelMissingError):
            self.summary.code = ExitCode.MODEL
        elif self.summary.code == ExitCode.DONE:
            self.summary.code = ExitCode.LEFT
        if not told:  # a model that is missing is said once, not for every memo
            self.report.left(name, why)


def take_in(
    paths: Sequence[Path],
    settings: Settings,
    store: Store,
    vault: Vault,
    ear: observe.Ear,
    eye: observe.Eye,
    report: Report,
    catalogue: Catalogue,
    *,
    shift: timedelta = timedelta(0),
    job: int | None = None,
    kind: str | None = None,
) -> Summary:
    """Take files and folders in, and queue what they say as drafts of their jobs.

    `shift` is added to every file's time of this batch: a clock known to be slow by it. `job` names
    a job to add to; else it is the one whose files lie within a day, or a new one, of `kind` or of
    the kind that what was said tells of.

    Raises:
        StoreError, VaultError: nothing more can be written; what was taken stays taken.
        RefusedError: the job is closed, or not there.
    """
    trying = Trying(settings.home / "unfinished")
    run = Run(settings, store, vault, ear, eye, report, catalogue, Summary(), trying, shift)
    files = _gather(paths, run)
    if paths and not any(map(observe.there, paths)):
        run.summary.code = ExitCode.INPUT
        return run.summary
    report.begins(len(files), run.summary.foreign)
    if found := recovery.lost(store, vault):
        report.notice(f"{found} in the vault and not in the record; `cowlnote recover` takes it in")
    batch = list({media.id: media for media in _keep_all(files, run)}.values())
    run.summary.already = sum(1 for media in batch if media.job is not None)
    made: dict[int, JobDone] = {}
    for part, at_once in _rounds(batch, run):
        _hear_all(part, run, at_once)
        _read_all(part, run)
        for number in sorted(_place(part, run, job, kind)):
            made[number] = _queue(number, batch, run)
    run.summary.done += [made[number] for number in sorted(made)]
    return run.summary


def _rounds(batch: list[Media], run: Run) -> Iterator[tuple[list[Media], int]]:
    """Give what is to be heard and read, and how many at once: what once ended a run comes last.

    That is heard one by one, so that it is known which it was. What earlier runs left behind joins
    the batch. So the good files are drafted before a bad one is looked at again; one that ended two
    runs is set aside, until somebody names it again.
    """
    named = {media.id for media in batch}
    with run.store.session(write=False) as session:
        left = {m.id: m for m in (*rows.unheard(session), *rows.homeless(session))}
    batch += [media for number, media in left.items() if number not in named]
    good: list[Media] = []
    tried: list[Media] = []
    for media in batch:
        deaths = run.trying.deaths(media.sha256) if media.state != "heard" else 0
        if deaths >= MOST and media.id not in named:
            run.aside.add(media.id)
            if media.state == "kept":
                _set_aside(media, run)
            good.append(media)  # it still belongs to a job
        else:
            (tried if deaths else good).append(media)
    yield good, getattr(run.ear, "at_once", 1)
    if tried:
        yield tried, 1


def _gather(paths: Iterable[Path], run: Run) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        if not observe.there(path):
            run.leave(path, InputError("is not there", todo="look at how it is spelt"))
        elif path.is_dir():
            for found in _walk(path, run):
                if not found.name.startswith(".") and kind_of(found):
                    files.append(found)
                else:
                    run.summary.foreign += 1
        elif kind_of(path) is None:
            run.leave(path, InputError("neither a memo nor a photo"))
        else:
            files.append(path)
    return list(dict.fromkeys(files))


def _walk(folder: Path, run: Run) -> Iterator[Path]:
    """Give the files under a folder, however deep; what cannot be looked at is named."""
    todo = [(folder, True)]
    while todo:
        path, inward = todo.pop()
        try:
            if path.is_file():
                yield path
            elif inward or (path.is_dir() and not path.is_symlink()):
                inside = sorted(path.iterdir(), reverse=True)
                todo += [(one, False) for one in inside]
            elif not path.is_dir() and path.suffix.lower() in ENDS:
                run.leave(path, InputError("this is no file", todo="leave it out"))
        except OSError as error:
            run.leave(path, InputError(f"cannot be read ({error.strerror})"))


def _keep_all(files: Sequence[Path], run: Run) -> Iterator[Media]:
    for number, path in enumerate(files, 1):
        run.report.doing("keeping", spelt(path.name), number, len(files))
        try:
            kept = run.vault.keep(path)
        except InputError as error:
            run.leave(path, error)
            continue
        began = observe.began_at(run.vault.path(kept.sha256), kept, run.settings.zone, run.shift)
        with run.store.session() as session:
            media = rows.note(session, kept, began)
        if began.doubt and media.job is None:
            run.report.notice(f"{media.name}: {began.doubt}")
        yield media


def _hear_all(batch: list[Media], run: Run, at_once: int) -> None:
    """Hear every memo that was not yet heard; so many at once, noted one after another."""
    memos = [media for media in batch if media.kind == "memo"]
    todo = [
        (number, media)
        for number, media in enumerate(memos, 1)
        if media.state != "heard" and media.id not in run.aside
    ]
    with Hearings(run.vault, run.ear, run.report.share, at_once) as hearings:
        for place, (number, media) in enumerate(todo):
            run.report.doing("hearing", media.name, number, len(memos))
            with _leaving(media, run):
                ahead = [other for _, other in todo[place : place + at_once]]
                heard, doubt = hearings.of(media, ahead)
                with run.store.session() as session:
                    rows.keep_transcript(session, media.id, heard)
                run.summary.memos += 1
                if doubt:
                    run.report.notice(f"{media.name}: {doubt}")


def _set_aside(media: Media, run: Run) -> None:
    run.leave(media.name, InputError(DIED, todo="take it in by its name to try it again"))
    with run.store.session() as session:
        rows.set_failed(session, media.id, DIED)


@contextmanager
def _leaving(media: Media, run: Run) -> Iterator[None]:
    """Whatever an engine does with one file, leave the file and go on; a full disk ends the run."""
    try:
        with run.trying.at(media.sha256):
            yield
    except (ModelMissingError, AlteredError) as error:  # it waits for the model, or a good copy
        run.leave(media.name, error)
    except DiedError as error:
        if run.trying.deaths(media.sha256) < MOST:
            run.leave(media.name, InputError(error.what, todo="it is tried once more, last"))
            return
        _set_aside(media, run)
    except InputError as error:
        run.leave(media.name, error)
        with run.store.session() as session:
            rows.set_failed(session, media.id, error.what)
    except CowlnoteError:
        raise
    except MemoryError:
        run.leave(media.name, InputError("not enough memory for it", todo="close other programs"))
    except Exception as error:  # noqa: BLE001  (an engine may fail in any way)
        why = " ".join(f"{type(error).__name__}: {error}".split())
        run.leave(media.name, InputError(f"the engine failed ({why})", todo="try it again"))


def _place(batch: Sequence[Media], run: Run, job: int | None, kind: str | None) -> set[int]:
    """Put wrong clocks right, then join each file to its job; give the jobs to draft anew."""
    settings, tell = run.settings, run.report.notice

    def original(media: Media) -> Instant:
        kept = Kept(media.sha256, media.original, media.size, media.kind, media.modified)
        return observe.began_at(run.vault.path(media.sha256), kept, settings.zone)

    with run.store.session() as session:
        memos = [media for media in batch if media.kind == "memo"]
        touched = recorders.put_right(session, memos, None if run.shift else original, tell)
        recorders.ask_about_hours(session, batch, tell)
        current = [rows.get(session, media.id) for media in batch]
        joined = placing.place(session, current, settings, tell, job=job, kind=kind)
        run.summary.taken += len(joined)
        placed = {rows.get(session, media.id).job for media in current}
        return touched | {number for number in placed if number is not None}


def _read_all(batch: Sequence[Media], run: Run) -> None:
    photos = [media for media in batch if media.kind == "photo"]
    for number, media in enumerate(photos, 1):
        if media.state == "heard" or media.id in run.aside:
            continue
        run.report.doing("reading", media.name, number, len(photos))
        with _leaving(media, run):
            seen = run.eye.read(run.vault.proved(media.sha256), media.name)
            with run.store.session() as session:
                rows.keep_photo_text(session, media.id, seen)
            run.summary.photos += 1


def _queue(job: int, batch: Sequence[Media], run: Run) -> JobDone:
    """Draft a job anew from everything that was heard and read for it; say what was lost."""
    with run.store.session(write=False) as session:  # seconds, in which others may write
        read = drafting.read(session, job, run.settings, run.catalogue)
    with run.store.session() as session:
        made = drafting.again(session, job, run.settings, run.catalogue, read)
        found = jobs.get(session, job)
        every = rows.media(session, job, every=False)
        told = [queued.draft for queued in queue.drafts(session, job)]
        lost = understood.lost(every, rows.observed(session, job), told)
    mine = {media.id for media in batch}
    lost = [one for one in lost if one.id in mine]
    for one in lost:
        run.report.lost(one)
    return JobDone(
        job,
        found.aircraft,
        found.kind,
        found.first.date() if found.first else None,
        tuple(media.name for media in every if media.id in mine),
        len(made.drafts),
        sum(1 for draft in made.drafts if draft.doubts),
        tuple(lost),
    )
