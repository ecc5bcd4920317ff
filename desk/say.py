"""Words for the terminal: results to stdout, progress and complaints to stderr."""

from __future__ import annotations

import codecs
import io
import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from desk import findings
from extract.values.draft import Draft, Value
from extract.values.known import NOTHING, Known
from record.signs import in_json, written_out

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress
    from rich.text import Text

    from desk.intake import Summary
    from desk.understood import Lost
    from extract.values.adverse import Finding
    from extract.values.catalogue import Catalogue
    from record.entries import Entry
    from record.jobs import Job
    from record.media import Media
    from record.queue import Queued
    from record.search import Hit


def line(text: str = "") -> None:
    """Print one line of a result."""
    print(written_out(text), flush=True)


def lines(texts: Iterable[str]) -> None:
    """Print lines of a result."""
    for text in texts:
        line(text)


def complain(text: str) -> None:
    """Print one line to stderr; the middle of one that nobody would read is left out."""
    if len(text) > MOST:
        text = f"{text[: MOST - 100]} … {text[-100:]}"
    print(f"cowlnote: {written_out(text)}", file=sys.stderr, flush=True)


def note(text: str) -> None:
    """Print to stderr something a person should know, which is no failure."""
    print(written_out(text), file=sys.stderr, flush=True)


def data(value: Any) -> None:
    """Print a value as one line of JSON."""
    plain = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "") == "utf8"
    print(in_json(json.dumps(value, ensure_ascii=not plain)), flush=True)


MOST = 500  # signs in a complaint
PLAINER = {"▲": "(!)", "✓": "ok", "→": "->", "≤": "<=", "≥": ">=", "−": "-", "☐": "[ ]", "☑": "[x]"}


def any_encoding() -> None:
    """Let both streams take every sign, also where a file or an old console knows few of them."""
    codecs.register_error("cowlnote", _plainer)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="cowlnote")


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """Give what stands for signs that an encoding has not: a likeness, else their numbers."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    made = "".join(
        PLAINER.get(s) or s.encode("ascii", "backslashreplace").decode("ascii") for s in signs
    )
    return made, error.end


def is_shown() -> bool:
    """Tell whether what is printed goes to a terminal, and not into a file."""
    return sys.stdout.isatty()


def is_asking() -> bool:
    """Tell whether a person sits at a terminal and can be asked."""
    return sys.stdin.isatty()


def ask(question: str) -> str:
    """Ask a person; an end of input is an empty answer."""
    print(written_out(question), end=" ", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer:
        raise EOFError
    return answer.strip()


def _console(stderr: bool = False) -> Console:
    from rich.console import Console

    return Console(stderr=stderr, highlight=False, soft_wrap=False)


def clock(seconds: float) -> str:
    """Give seconds into a memo as minutes and seconds: 75.2 is `1:15`."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def place(draft: Draft) -> str:
    """Say where a draft comes from: `memo_03.wav 0:12`, or a photo's name."""
    return draft.media if draft.start is None else f"{draft.media} {clock(draft.start)}"


def about(name: str, position: int | str | None, catalogue: Catalogue) -> str:
    """Give the plain words for a field, with its position: `compression 3`."""
    label = catalogue.fields[name].label if name in catalogue.fields else name
    return label if position is None else f"{label} {position}"


def shown(name: str, value: Value, unit: str | None, catalogue: Catalogue) -> str:
    """Give a value as its owner writes it, with its unit."""
    field = catalogue.fields.get(name)
    return field.show(value) if field else " ".join(filter(None, (str(value), unit)))


def as_given(one: Draft | Entry, catalogue: Catalogue) -> str:
    """Give the value of a draft or entry as its owner writes it, and as it was said."""
    field = catalogue.fields.get(one.name)
    if one.value is None:
        return ""
    if field is None:
        return " ".join(filter(None, (str(one.value), one.unit)))
    return field.told(one.value, one.said)


def drafts(
    rows: Sequence[Draft | Queued],
    catalogue: Catalogue,
    known: Known = NOTHING,
    beside: Mapping[int, str] | None = None,
) -> None:
    """Print each draft as a line, and below it the words, the doubts and the other readings.

    What is adverse stands first, under a heading of its own, with the caution that fits. `beside`
    is what was read back of each, by its number.
    """
    pairs = [(None, row) if isinstance(row, Draft) else (row, row.draft) for row in rows]
    bad = [p for p in pairs if _bad(p[0], p[1], catalogue, known)]
    rest = [p for p in pairs if not _bad(p[0], p[1], catalogue, known)]
    if bad and len(pairs) > 1:
        line(f"{findings.MARK} BAD NEWS, {counted(len(bad), 'draft')}\n")
        _drafts(bad, catalogue, known, beside)
        if rest:
            line("\nALL ELSE\n")
            _drafts(rest, catalogue, known, beside)
    else:
        _drafts(pairs, catalogue, known, beside)


def _bad(queued: Queued | None, draft: Draft, catalogue: Catalogue, known: Known) -> Finding | None:
    if queued is not None and queued.state == "rejected":
        return None
    field = catalogue.fields.get(draft.name)
    return field.finding(draft.value, known) if field else None


def _drafts(
    pairs: Sequence[tuple[Queued | None, Draft]],
    catalogue: Catalogue,
    known: Known,
    beside: Mapping[int, str] | None,
) -> None:
    from rich.padding import Padding
    from rich.text import Text

    console = _console()
    names = [written_out(about(draft.name, draft.position, catalogue)) for _, draft in pairs]
    values = [written_out(as_given(draft, catalogue)) for _, draft in pairs]
    wide, long = (max(map(len, texts), default=0) for texts in (names, values))
    for (queued, draft), name, value in zip(pairs, names, values, strict=True):
        number = f"{queued.number:>4}" if queued else "    "
        state = f"  {queued.state}" if queued and queued.state != "waiting" else ""
        head = Text(f"{number}  {name:<{wide}}  ")
        head.append(f"{value:<{long}}", style="bold").append(
            f"  sure {draft.confidence:.2f}{state}"
        )
        console.print(head)
        if found := _bad(queued, draft, catalogue, known):
            news = Text(f"{findings.marked(found)}{f', {found.why}' if found.why else ''}")
            news.stylize("bold red")
            news.append(f"\n  {found.caution.text}", style="not bold red")
            console.print(Padding(news, (0, 0, 0, 6), expand=False))
        evidence = _evidence(draft, catalogue, known)
        if queued and (told := (beside or {}).get(queued.id)):
            evidence.append(f"\n{told}")
        console.print(Padding(evidence, (0, 0, 0, 6), expand=False))


def _evidence(draft: Draft, catalogue: Catalogue, known: Known = NOTHING) -> Text:
    from rich.text import Text

    told = Text(written_out(f"“{draft.heard}”  {place(draft)}".strip()), style="dim")
    for other in draft.also:
        second = "" if other.start is None else f" {clock(other.start)}"
        told.append(written_out(f"\n“{other.heard}”  {other.media}{second}"))
    for doubt in draft.doubts:
        told.append(f"\n? {written_out(doubt)}", style="not dim bold yellow")
    for reading in draft.alternatives:
        value = shown(draft.name, reading.value, draft.unit, catalogue)
        why = f" ({reading.why})" if reading.why else ""
        told.append(f"\nor {written_out(value)}, sure {reading.confidence:.2f}{why}")
        field = catalogue.fields.get(draft.name)
        if field and (bad := field.finding(reading.value, known)):
            told.append(f"\n  {findings.marked(bad)}", style="not dim bold red")
    return told


def trial(
    given: str,
    made: Sequence[Draft],
    catalogue: Catalogue,
    known: Known = NOTHING,
    *,
    why: bool = False,
) -> None:
    """Print what an input would become, and with `why` how each value came about."""
    line(f"{given}")
    if made:
        drafts(made, catalogue, known)
        for draft in made if why else ():
            value = shown(draft.name, draft.value, draft.unit, catalogue)
            line(f"  why {about(draft.name, draft.position, catalogue)} {value}")
            for told in draft.trail:
                line(f"      {told}")
    else:
        line("  no draft")
    line()


def summary(run: Summary, catalogue: Catalogue) -> None:
    """Print how an intake ended, each job with its files, and what to do next."""
    line(
        f"{counted(run.taken, 'file')} taken in, {run.already} there already, "
        f"{counted(len(run.left), 'file')} left"
    )
    for done in run.done:
        kind = catalogue.jobs.get(done.kind)
        label = kind.label if kind else done.kind
        about = (done.aircraft, done.day.isoformat() if done.day else "", label)
        line(
            f"job {done.id} ({', '.join(filter(None, about))}): {counted(done.drafts, 'draft')}, "
            f"{done.doubtful} of them doubtful"
        )
        line(f"  from {', '.join(done.files) or 'what was there'}")
    if run.done:
        line("look with `cowlnote drafts`, decide with `cowlnote review`")


def jobs(rows: Iterable[Job], catalogue: Catalogue) -> None:
    """Print jobs as a table."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for name in ("job", "aircraft", "work", "began", "waiting", "state"):
        table.add_column(name)
    for job in rows:
        kind = catalogue.jobs.get(job.kind)
        label = kind.label if kind else job.kind
        open_ = "set aside" if job.aside else "open"
        cells = (
            str(job.id),
            job.aircraft or "",
            f"{label} (offered: {job.offered})" if job.offered else label,
            (job.first or job.opened_at).strftime("%Y-%m-%d %H:%M"),
            str(job.waiting),
            open_ if job.is_open else f"closed by {job.closed_by}",
        )
        table.add_row(*(Text(written_out(cell)) for cell in cells))
    _console().print(table)


def files(media: Iterable[Media], lost: Mapping[int, str]) -> None:
    """Print memos and photos, a line each: when, the name, and what is to be known of it."""
    for one in media:
        when = one.began.at.strftime("%Y-%m-%d %H:%M:%S") if one.began else "no time is known"
        reason = one.reason if one.state == "failed" else ""
        doubt = one.began.doubt if one.began else ""
        notes = ("set aside" if one.aside else "", reason, lost.get(one.id, ""), doubt)
        line("  ".join(filter(None, (f"  {when}", one.name, "; ".join(filter(None, notes))))))


def hits(found: Sequence[Hit]) -> None:
    """Print what a search found, one line each: when, which file, which second, the words."""
    for hit in found:
        when = hit.said_at.strftime("%Y-%m-%d %H:%M:%S") if hit.said_at else "no date"
        second = "" if hit.second is None else f" {clock(hit.second)}"
        told = hit.text
        if hit.entry is not None:
            shown = " ".join(filter(None, (hit.value or "withdrawn", hit.unit)))
            entered = f"entered: {hit.field} {shown} by {hit.by}{', replaced' * hit.replaced}"
            told = f"{hit.text} ({entered})".strip()
        told += ", set aside" * hit.aside
        line(f"{when}  job {hit.job}  {hit.media}{second}  {told}")
    if not found:
        line("nothing found")


class Terminal:
    """An intake's report on stderr: a bar for what is going on, a line for what was left."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._task = progress.add_task("", total=None, visible=False)

    def begins(self, files: int, foreign: int) -> None:
        """Say how many files there are."""
        line = f"{counted(files, 'memo or photo', 'memos and photos')} found"
        self.notice(f"{line}, {counted(foreign, 'other file')} passed over" if foreign else line)

    def doing(self, what: str, name: str, number: int, files: int) -> None:
        """Show what is going on."""
        self._progress.update(
            self._task,
            description=written_out(f"{what} {number} of {files}: {name}"),
            total=1.0,
            completed=0.0,
            visible=True,
        )

    def share(self, name: str, share: float) -> None:
        """Show how much of the file is done."""
        self._progress.update(self._task, completed=share)

    def left(self, name: str, why: str) -> None:
        """Say what was left, and why."""
        self.notice(f"left: {name}: {why}")

    def lost(self, what: Lost) -> None:
        """Say in which file nothing was understood."""
        self.notice(what.line)

    def notice(self, line: str) -> None:
        """Say what a person should know."""
        self._progress.console.print(written_out(line), markup=False, soft_wrap=True)


@contextmanager
def terminal() -> Iterator[Terminal]:
    """Give a report that draws on stderr while the block runs."""
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = TextColumn("{task.description}", markup=False), BarColumn(20), TimeElapsedColumn()
    console = _console(stderr=True)
    quiet = not console.is_terminal  # in a script, lines alone
    with Progress(*columns, console=console, transient=True, disable=quiet) as progress:
        yield Terminal(progress)


def counted(number: int, one: str, many: str = "") -> str:
    """Give a number with its noun: `1 draft`, `3 drafts`."""
    return f"{number} {one}" if number == 1 else f"{number} {many or one + 's'}"


def fetching(what: str, share: float | None) -> None:
    """Print what is being done, and how much of it is done."""
    note(what if share is None else f"{what} ({share:.0%})")


def entered(entry: Entry, catalogue: Catalogue, where: str) -> None:
    """Print what was entered, by whom, and in which job."""
    label = about(entry.name, entry.position, catalogue)
    value = as_given(entry, catalogue)
    line(f"{label}: {value}, entered by {entry.by} ({where}, e{entry.id})")
