"""An owner's key, kept outside the home, and heads of the record that are signed with it.

The signature is Ed25519 (RFC 8032). It says that whoever held the key saw this head; it says
nothing of what the record holds, and signs no work. A key that lies beside the record proves
nothing against somebody who has both, so none is ever put into a home.
"""

from __future__ import annotations

import base64
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from capture import flushed
from capture.errors import InputError
from record.errors import IntegrityError, RefusedError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_VARIABLE = "COWLNOTE_KEY"
NAME = "key.pem"
MARK = "ed25519:"
STATEMENT = re.compile(
    r"(?P<said>head (?P<number>\d{1,15})-(?P<hash>[0-9a-f]{64})\n"
    r"at (?P<at>\S{1,40})\n"
    r"key (?P<key>ed25519:[A-Za-z0-9+/=]{44}))\n"
    r"signature (?P<signature>[A-Za-z0-9+/=]{88})"
)


@dataclass(frozen=True, slots=True)
class Signed:
    """A head that was signed: its number and hash, when, and by which key."""

    number: int
    hash: str
    at: str
    key: str


def place(env: Mapping[str, str]) -> Path:
    """Give where the key lies: `COWLNOTE_KEY`, or the user's own folder of settings."""
    if env.get(KEY_VARIABLE):
        return Path(env[KEY_VARIABLE]).expanduser()
    import platformdirs

    return Path(platformdirs.user_config_dir("cowlnote", appauthor=False)) / NAME


def make(path: Path, home: Path) -> str:
    """Make a key, readable by its owner alone; give its public half, `ed25519:…`.

    Raises RefusedError where one is there already, or within the home; InputError where it cannot
    be written.
    """
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    if path.resolve().is_relative_to(home.resolve()):
        raise RefusedError(
            "a key in the home proves nothing to who has the home", todo="keep it elsewhere"
        )
    key = Ed25519PrivateKey.generate()
    pem = key.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, form.NoEncryption())
    try:
        flushed.folder(path.parent, 0o700)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise RefusedError(
            f"there is a key already at {path}", todo="keep it; heads were signed with it"
        ) from None
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", path, "name another") from None
    with os.fdopen(handle, "wb") as out:
        out.write(pem)
        out.flush()
        os.fsync(out.fileno())
    flushed.names(path.parent)  # heads will be signed with it
    return _public(key)


def load(path: Path) -> Ed25519PrivateKey | None:
    """Give the key; None where none is there.

    Raises InputError for a file that is none, RefusedError for one that others may read.
    """
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        held = path.read_bytes()
        shared = os.name != "nt" and path.stat().st_mode & 0o077
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", path, "check the file") from None
    if shared:
        raise RefusedError(f"{path}: others may read this key", todo=f"chmod 600 {path}")
    try:
        key = load_pem_private_key(held, None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        raise InputError("is no Ed25519 key", path, "put the key back that was made")
    return key


def public(path: Path) -> str | None:
    """Give the public half of the key; None where there is no key. Raises as `load` does."""
    key = load(path)
    return _public(key) if key else None


def _public(key: Ed25519PrivateKey) -> str:
    return MARK + base64.b64encode(key.public_key().public_bytes_raw()).decode()


def statement(number: int, seal: str, at: str, key: Ed25519PrivateKey) -> str:
    """Give a signed head as four lines of text."""
    said = f"head {number}-{seal}\nat {at}\nkey {_public(key)}"
    return f"{said}\nsignature {base64.b64encode(key.sign(said.encode())).decode()}"


def read(text: str) -> Signed | None:
    """Find a signed head in a text and prove it; None where there is none.

    Raises IntegrityError where the signature is not of what stands there.
    """
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    found = STATEMENT.search(text.replace("\r\n", "\n"))
    if found is None:
        return None
    try:
        raw = base64.b64decode(found["key"].removeprefix(MARK), validate=True)
        signature = base64.b64decode(found["signature"], validate=True)
        Ed25519PublicKey.from_public_bytes(raw).verify(signature, found["said"].encode())
    except (ValueError, InvalidSignature):
        raise IntegrityError(
            f"the signature of head {found['number']} is not of what stands there",
            todo="look for the head as it was first kept",
        ) from None
    return Signed(int(found["number"]), found["hash"], found["at"], found["key"])
