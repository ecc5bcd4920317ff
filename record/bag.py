"""The record as a bag (BagIt, RFC 8493) that outlives this program, and such a bag read back.

A bag holds the originals, transcripts as WebVTT (W3C), the record as JSON with its schema and as
CSV, and whatever papers the caller adds. Nothing in it needs this program to be read.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import logging
import os
import re
import shutil
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from capture import flushed
from capture.errors import InputError
from record import aside, strict
from record.dump import schema
from record.errors import IntegrityError, StoreError
from record.witnesses import sources

DOCUMENT, SCHEMA = "record.json", "record.schema.json"
README = """An aircraft's service record, as a bag (BagIt, RFC 8493).

originals/      the memos and photos as captured, named after their own names and SHA-256
transcripts/    what was heard in each memo (WebVTT)
entries/        the draft logbook entry and the service record of each job, as text and PDF with its
                photos; in the folder of a job the sound and picture of each value, and index.html
csv/            jobs, media, entries, decisions, arrangements and laboratory reports as tables; a
                cell that a spreadsheet would take for a formula has an apostrophe before it.
                media_sha256 of an entry is the file that was decided on, whatever it is called now
record.json     the whole record; record.schema.json says what each column means
read-back.txt   what was read back to whoever spoke, and when, where anything was
head.txt        the head of the record, which stands for all of it; signed where there is a key
aircraft.toml   the aircraft's profile, where there was one; aircraft/ those of further aircraft

Each decision and entry carries the SHA-256 of the one before it, so a change in the middle shows.
Where `position_removed` is true in record.json, the place was taken out of the copy in originals/;
`sha256` is then that of the original and `file_sha256` that of the copy.
"""
ORIGINALS, TRANSCRIPTS = "originals", "transcripts"
SOURCE = "media_sha256"  # in the table of entries: what each rests on, by its content
Strip = Callable[[Path], object]


@dataclass(frozen=True, slots=True)
class Original:
    """One original of a bag: which it is, where it lies, and whether its position was taken out.

    `sha256` names the original's bytes, `file_sha256` those of the file in the bag, which differ
    where `position_removed`. `file` is relative to the payload; None where it could not be put in.
    """

    sha256: str
    name: str
    file: str | None
    file_sha256: str | None
    position_removed: bool


def write(
    document: dict[str, Any],
    originals: Mapping[str, Path],
    out: Path,
    *,
    strip: Strip | None,
    papers: Mapping[str, bytes],
    about: Mapping[str, str],
    copies: Mapping[str, str] = MappingProxyType({}),
    home: Path | None = None,
) -> Path:
    """Write a bag to the new folder `out`; whole or not at all.

    `document` is `record.dump.dump`; `originals` are by hash; `strip` takes the position out of a
    copy where it lies, None leaves originals byte for byte; `papers` are further payload files by
    path; `about` goes into bag-info.txt; `copies` names, by the hash of its original, the hash of
    a copy that stands in for it; `home` is told where the bag is made, so that what a kill leaves
    is found. Raises `InputError` where `out` is there already or cannot be written, `StoreError`
    where the disk gives out, `IntegrityError` where an original is not what the record says; one
    that is not in `originals` is listed without a file.
    """
    if out.exists():
        raise InputError("is there already", out, "name a new folder")
    if not out.parent.is_dir():
        raise InputError("there is no such folder", out.parent, "make it first")
    try:
        with aside.folder(out.parent, home) as made:
            files = [
                _put(row, originals.get(row["sha256"]), made, strip, copies)
                for row in _media(document)
            ]
            _fill(made, document, files, papers, about)
            made.chmod(0o755)
            made.replace(out)
            flushed.names(out.parent)
    except OSError as error:
        raise StoreError(
            f"the export cannot be written ({error.strerror or error})",
            out,
            "make room, or choose another",
        ) from None
    return out


def _fill(
    top: Path,
    document: dict[str, Any],
    files: Sequence[Original],
    papers: Mapping[str, bytes],
    about: Mapping[str, str],
) -> None:
    """Put everything into the folder of a bag, make it one, prove it, and flush it to the disk."""
    import bagit

    full = {**document, "files": [_file_json(one) for one in files]}
    payload = {
        DOCUMENT: _json(full),
        SCHEMA: _json(schema()),
        "README.txt": README.encode(),
        **{f"{TRANSCRIPTS}/{name}": text.encode() for name, text in _vtts(document)},
        **{f"csv/{name}.csv": made for name, made in _tables(document)},
        **papers,
    }
    for name, content in payload.items():
        where = top / name
        where.parent.mkdir(parents=True, exist_ok=True)
        where.write_bytes(content)
    _hush()
    try:
        bagit.make_bag(str(top), dict(about), checksums=["sha256"])
        bagit.Bag(str(top)).validate()
    except bagit.BagError as error:
        raise OSError(f"what was written does not read back: {error}") from None
    _flush(top)


def _hush() -> None:
    """Keep the library from printing, with a traceback, what it raises as well."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL + 1)


def _media(document: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = document["tables"]["media"]
    return found


def safe(row: Mapping[str, Any]) -> str:
    """Give the name of a media file in a bag: readable, portable, and its own by its hash."""
    stem, _, ending = row["original"].rpartition(".")
    plain = re.sub(r"[^A-Za-z0-9_-]+", "_", stem or ending).strip("_")[:60] or "file"
    suffix = re.sub(r"[^A-Za-z0-9]", "", ending.lower())[:8] if stem else "bin"
    return f"{plain}-{row['sha256'][:12]}.{suffix or 'bin'}"


def _put(
    row: dict[str, Any],
    source: Path | None,
    top: Path,
    strip: Strip | None,
    copies: Mapping[str, str],
) -> Original:
    """Copy an original into the bag, and prove the very bytes that were copied."""
    sha256 = row["sha256"]
    if source is None:
        return Original(sha256, row["original"], None, None, position_removed=False)
    (top / ORIGINALS).mkdir(exist_ok=True)
    name = f"{ORIGINALS}/{safe(row)}"
    copy = top / name
    shutil.copyfile(source, copy)
    digest = _digest(copy)
    if digest not in (sha256, copies.get(sha256)):
        raise IntegrityError("is not what was kept: its bytes have changed", row["original"])
    if strip is not None:
        strip(copy)
        digest = _digest(copy)
    return Original(sha256, row["original"], name, digest, digest != sha256)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _file_json(one: Original) -> dict[str, Any]:
    return {
        "sha256": one.sha256,
        "name": one.name,
        "file": one.file,
        "file_sha256": one.file_sha256,
        "position_removed": one.position_removed,
    }


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True).encode() + b"\n"


def _vtts(document: dict[str, Any]) -> Iterable[tuple[str, str]]:
    segments: dict[int, list[dict[str, Any]]] = {}
    for row in document["tables"]["segment"]:
        if row["start_s"] is not None and row["end_s"] is not None:
            segments.setdefault(row["media_id"], []).append(row)
    engines = {row["media_id"]: row["engine"] for row in document["tables"]["transcript"]}
    for row in _media(document):
        if row["kind"] == "memo" and row["id"] in engines:
            name = f"{Path(safe(row)).stem}.vtt"
            yield name, webvtt(row, engines[row["id"]], segments.get(row["id"], []))


def webvtt(media: Mapping[str, Any], engine: str, segments: Sequence[Mapping[str, Any]]) -> str:
    """Give a memo as heard in WebVTT (W3C): a note of what it is, then its stretches of speech."""
    began = f", began {media['began']}" if media["began"] else ""
    note = f"{media['original']}{began}, SHA-256 {media['sha256']}, heard by {engine}"
    blocks = ["WEBVTT", f"NOTE\n{_line(note).replace('-->', '->')}"]
    for row in sorted(segments, key=lambda r: r["start_s"]):
        start_ms = round(row["start_s"] * 1000)
        end_ms = max(round(row["end_s"] * 1000), start_ms + 1)
        words = _line(row["text"]).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        if words:
            blocks.append(f"{_clock(start_ms)} --> {_clock(end_ms)}\n{words}")
    return "\n\n".join(blocks) + "\n"


def _line(text: str) -> str:
    return " ".join(text.split())


def _clock(ms: int) -> str:
    return f"{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def _tables(document: dict[str, Any]) -> Iterable[tuple[str, bytes]]:
    rests = {row["id"]: sources(row.get("evidence")) for row in document["tables"]["decision"]}
    for name in ("job", "media", "entry", "decision", "arrangement", "lab_report"):
        rows = [_readable(row) for row in document["tables"][name]]
        if name == "entry":
            rows = [
                {**row, SOURCE: rests[row["decision_id"]].get(row["media"], "")} for row in rows
            ]
        out = io.StringIO()
        columns = [*schema()["properties"]["tables"]["properties"][name]["items"]["properties"]]
        if name == "entry":
            columns.insert(columns.index("media") + 1, SOURCE)
        writer = csv.DictWriter(out, columns, lineterminator="\r\n")
        writer.writeheader()
        writer.writerows(rows)
        yield name, out.getvalue().encode("utf-8-sig")


def _readable(row: dict[str, Any]) -> dict[str, Any]:
    """Give a row as a spreadsheet should have it: the position bare, and no cell that it runs."""
    bare = {**row, "position": json.loads(row["position"])} if "position" in row else row
    return {name: plain(value) if isinstance(value, str) else value for name, value in bare.items()}


# What a spreadsheet takes for a formula, by its first sign (OWASP, CSV injection), wide forms too;
# but a plain number or a part number such as -227A is neither run nor changed by one.
_RUN = re.compile(r"[\s\x00-\x1f]*[=+\-@＝＋－＠|%]|[\t\r\n]")
_HARMLESS = re.compile(r"[+-]?\d+([.,]\d+)?[A-Za-z]*", re.ASCII)


def plain(cell: str) -> str:
    """Give a cell of a table that no spreadsheet runs: one that it would begins with `'`."""
    return f"'{cell}" if _RUN.match(cell) and not _HARMLESS.fullmatch(cell) else cell


def _flush(top: Path) -> None:
    for where in sorted(top.rglob("*"), reverse=True):
        if where.is_file():
            with where.open("rb") as file:
                os.fsync(file.fileno())
        else:
            flushed.names(where)
    flushed.names(top)


@dataclass(frozen=True, slots=True)
class Bag:
    """A bag that was proved: its record, and where each original lies."""

    payload: Path
    document: dict[str, Any]

    @property
    def files(self) -> list[Original]:
        """Give the originals that the bag lists."""
        return [Original(**raw) for raw in self.document["files"]]


def read(folder: Path) -> Bag:
    """Read a bag and prove it: every byte by its manifests, the record by its schema.

    Raises `InputError` for what is no bag of a record, `IntegrityError` for one that is damaged.
    """
    import bagit
    from jsonschema import Draft202012Validator

    _hush()
    if not folder.is_dir():
        raise InputError("is no folder", folder, "name the folder that `cowlnote export` wrote")
    try:
        proved = bagit.Bag(str(folder))
        proved.validate()
        entries = proved.payload_entries()
    except bagit.BagValidationError as error:
        raise IntegrityError(
            f"the bag is damaged: {_first(error)}", folder, "copy it again"
        ) from None
    except (bagit.BagError, OSError, ValueError, LookupError, TypeError) as error:
        raise InputError(f"is no bag ({_line(str(error))})", folder, "name an export") from None
    payload = folder / "data"
    try:
        document = strict.loads((payload / DOCUMENT).read_text("utf-8"))
    except (OSError, ValueError, InputError) as error:
        raise InputError(
            f"holds no record ({_line(str(error))})", folder, "name an export"
        ) from None
    problem = next(iter(Draft202012Validator(schema()).iter_errors(document)), None)
    if problem is not None:
        where = "/".join(map(str, problem.absolute_path))
        raise InputError(
            f"{DOCUMENT}: {where or 'its top'} is not as the schema says: {problem.message[:120]}",
            folder,
            "it may be of a newer version of the program",
        )
    _need_files(document, entries, folder)
    return Bag(payload, document)


def _need_files(
    document: dict[str, Any], entries: Mapping[str, Mapping[str, str]], folder: Path
) -> None:
    """Hold the list of files to the record and to the manifest.

    Each memo and photo of the record is in it once, and nothing else; each file is in the payload,
    with the hash that the list says, which is the original's unless its position was taken out.
    """
    listed = sorted(one["sha256"] for one in document["files"])
    rows = sorted(row["sha256"] for row in _media(document))
    wrong = ""
    if listed != rows:
        missing = len(set(rows) - set(listed))
        wrong = (
            f"{missing} of the record are not in its list of files"
            if missing
            else ("its list of files names others than the record")
        )
    for one in document["files"]:
        if one["file"] is None:
            continue
        proved = {v.lower() for v in entries.get(f"data/{one['file']}", {}).values()}
        if one["file_sha256"] not in proved:
            wrong = f"{one['name']} is not in the bag as the list of files says"
        elif (one["file_sha256"] != one["sha256"]) != one["position_removed"]:
            wrong = f"{one['name']} is not the original that it is said to be"
    if wrong:
        raise IntegrityError(f"{DOCUMENT}: {wrong}", folder, "export it again")


def _first(error: Any) -> str:
    details = [str(d) for d in getattr(error, "details", [])]
    return _line(details[0] if details else str(error))
