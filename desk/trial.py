"""What an input would become, recorded nowhere: a sentence, a memo or a photo."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from capture import regular
from capture.errors import InputError
from capture.observed import Kept
from desk import observe
from desk.settings import Settings
from extract.values.catalogue import Catalogue
from extract.values.draft import Draft
from record.doubts import doubted


def try_input(
    given: str,
    settings: Settings,
    catalogue: Catalogue,
    ear: observe.Ear,
    eye: observe.Eye,
) -> tuple[Draft, ...]:
    """Give the drafts that an input would make; a sentence's have no media and no times.

    Raises:
        InputError: a path that is not there, a folder, a file that cannot be taken.
        ModelMissingError: a memo, and no model to hear it with.
    """
    path = Path(given)
    if _is_path(given, path):
        return _try_file(path, settings, catalogue, ear, eye)
    return try_sentence(given, settings, catalogue)


def try_sentence(text: str, settings: Settings, catalogue: Catalogue) -> tuple[Draft, ...]:
    """Give the drafts that a sentence would make."""
    from extract.read import read_sentence

    known = settings.profile.known()
    return doubted(read_sentence(text, catalogue, known), known, catalogue)


def _is_path(given: str, path: Path) -> bool:
    if given.strip() and observe.there(path):
        return True
    from capture.vault import ENDS

    return path.suffix.lower() in ENDS  # people end a sentence with a full stop, never with `.m4a`


def _try_file(
    path: Path, settings: Settings, catalogue: Catalogue, ear: observe.Ear, eye: observe.Eye
) -> tuple[Draft, ...]:
    from capture.vault import kind_of

    if not observe.there(path):
        raise InputError("is not there", path, "look at how it is spelt")
    if path.is_dir():
        raise InputError("is a folder", path, "name its files, or use `cowlnote intake`")
    kind = kind_of(path)
    if kind is None:
        raise InputError("neither a memo nor a photo", path)
    kept = _as_kept(path, kind)
    began = observe.began_at(path, kept, settings.zone)
    known = settings.profile.known(began.at.date())
    if kind == "photo":
        from extract.witness.photo import read_photo

        seen = replace(eye.read(path, path.name), taken=began)
        return doubted(read_photo(seen, catalogue, known), known, catalogue)
    from extract.read import read_memo

    heard, _ = observe.hear(path, path.name, ear)
    heard = replace(heard, began=began)
    error = observe.clock_error(heard, began)
    if error:
        heard = replace(
            heard,
            began=replace(began, at=began.at + error.shift, source="spoken", doubt=error.doubt),
        )
    return doubted(read_memo(heard, catalogue, known), known, catalogue)


def _as_kept(path: Path, kind: str) -> Kept:
    try:
        with regular.opened(path) as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        stat = path.stat()
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", path) from None
    modified = regular.changed_at(stat.st_mtime)
    return Kept(digest, regular.spelt(path.name), stat.st_size, kind, modified)
