"""Who may come in: one-time links, sessions, and the guard in front of every request."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import ipaddress
import json
import os
import secrets
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, Response

from capture import flushed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

TOKEN_HEADER = "x-cowlnote-token"  # noqa: S105  (the header's name, not a secret)
INVITE_S = 600.0  # a link that nobody followed in ten minutes is dead
DAY_S = 24 * 3600.0
PAIRED_S = 90 * DAY_S  # a phone that has not come for so long is paired no more
PHONE_PATHS = ("/phone", "/upload", "/static/")
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
MAX_BODY = 8 * 1024 * 1024  # bytes of one request; files come in pieces


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode()).digest()


@dataclass(slots=True)
class Doors:
    """The links handed out and the sessions let in, kept in memory only and as digests.

    `hosts` are the `Host` headers that are ours (name and port); `lan` says whether a paired phone
    may come from another address. Roles are `desk` (this machine) and `phone` (may send, and see
    what came of that). With a `file` paired phones stay paired when the desk is started anew: it
    holds their digests and the salt of their tokens, and nothing that would let anybody in.
    """

    hosts: frozenset[str]
    lan: bool = False
    file: Path | None = None
    _invites: dict[bytes, tuple[str, float]] = field(default_factory=dict)
    _sessions: dict[bytes, str] = field(default_factory=dict)
    _salt: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    _phones: dict[bytes, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Remember the phones that were paired before."""
        if self.file is None:
            return
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
            raw = json.loads(self.file.read_text(encoding="utf-8"))
            self._salt = bytes.fromhex(raw["salt"])
            for digest, seen in raw["phones"].items():
                if time.time() - float(seen) < PAIRED_S:
                    self._phones[bytes.fromhex(digest)] = float(seen)
        self._sessions |= dict.fromkeys(self._phones, "phone")

    def forget_phones(self) -> int:
        """Unpair every phone; give how many there were."""
        gone = [digest for digest, role in self._sessions.items() if role == "phone"]
        for digest in gone:
            del self._sessions[digest]
        self._invites = {key: kept for key, kept in self._invites.items() if kept[0] != "phone"}
        self._phones.clear()
        self._remember()
        return len(gone)

    def _remember(self) -> None:
        """Write down which phones are paired, for this user alone; a full disk hinders none."""
        if self.file is None:
            return
        phones = {digest.hex(): seen for digest, seen in self._phones.items()}
        text = json.dumps({"salt": self._salt.hex(), "phones": phones})
        aside = self.file.with_name(f".{self.file.name}.part")
        with contextlib.suppress(OSError):
            aside.unlink(missing_ok=True)
            with os.fdopen(os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
                out.write(text)
            flushed.placed(aside, self.file)

    @staticmethod
    def name(secret: str) -> str:
        """Give the name by which the desk knows a session: it tells nothing of its secret."""
        return _digest(secret).hex()[:24]

    @property
    def cookie(self) -> str:
        """Give the name of the session's cookie: a browser keeps one jar for all ports."""
        return f"cowlnote-{min(self.hosts).rpartition(':')[2]}"

    def invite(self, role: str) -> str:
        """Give a key that opens the door once, within ten minutes, for a role."""
        now = time.monotonic()
        self._invites = {key: kept for key, kept in self._invites.items() if kept[1] > now}
        key = secrets.token_urlsafe(24)
        self._invites[_digest(key)] = (role, time.monotonic() + INVITE_S)
        return key

    def enter(self, key: str, held: str = "") -> tuple[str, str] | None:
        """Trade a key for a session: (its secret, its role), or None where the key is spent.

        One that came with a session of that role (`held`) keeps it, and all that belongs to it.
        """
        role, until = self._invites.pop(_digest(key), ("", 0.0))
        if not role or time.monotonic() > until:
            return None
        if held and self.role(held) == role:
            return held, role
        secret = secrets.token_urlsafe(32)
        self._sessions[_digest(secret)] = role
        if role == "phone":
            self._phones[_digest(secret)] = time.time()
            self._remember()
        return secret, role

    def role(self, secret: str) -> str | None:
        """Give the role of a session, or None where it is not ours."""
        digest = _digest(secret) if secret else b""
        now = time.time()
        if now - self._phones.get(digest, now) > DAY_S:  # it still comes: it stays paired
            self._phones[digest] = now
            self._remember()
        return self._sessions.get(digest) if secret else None

    def token(self, secret: str) -> str:
        """Give the token that every change of this session must carry."""
        return hmac.new(self._salt, secret.encode(), hashlib.sha256).hexdigest()


def is_loopback(address: str) -> bool:
    """Say whether an address is this machine's own; anything unreadable is not."""
    try:
        ip = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return False
    mapped = getattr(ip, "ipv4_mapped", None)
    return (mapped or ip).is_loopback


class Guard:
    """ASGI middleware: host, address, session, token and size are checked before any page runs.

    A request that fails from this machine gets a plain sentence; from elsewhere it gets nothing.
    """

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        self.app, self.doors = app, doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it with as little as possible."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        secret = cookie_parser(headers.get("cookie", "")).get(self.doors.cookie, "")
        refusal = self._refusal(scope, headers, secret)
        if refusal is not None:
            await _hardened(refusal, scope, receive, send, "")
            return
        nonce = secrets.token_urlsafe(16)
        scope.setdefault("state", {})
        scope["state"].update(
            nonce=nonce,
            token=self.doors.token(secret) if secret else "",
            role=self.doors.role(secret) or "",
            name=self.doors.name(secret) if secret else "",
        )
        await _hardened(self.app, scope, receive, send, nonce)

    def _refusal(self, scope: Scope, headers: Headers, secret: str) -> Response | None:
        """Give the answer to a request that may not pass, or None where it may."""
        here = is_loopback((scope.get("client") or ("", 0))[0])
        nothing = Response(status_code=404)
        if headers.get("host", "") not in self.doors.hosts:
            return Response(status_code=421)
        if not here and not self.doors.lan:
            return nothing
        path, method = scope["path"], scope["method"]
        if path.startswith("/open/") and method == "GET":
            return None
        role = self.doors.role(secret)
        if role is None or (role == "desk" and not here):
            return _sentence(403, "Open this page by the link that `cowlnote desk` prints.", here)
        if role == "phone" and not path.startswith(PHONE_PATHS):
            return nothing
        if method in SAFE_METHODS:
            return None
        return self._change_refused(headers, secret, here, scope["scheme"])

    def _change_refused(
        self, headers: Headers, secret: str, here: bool, scheme: str
    ) -> Response | None:
        origin = headers.get("origin")
        if origin is not None and origin != f"{scheme}://{headers['host']}":
            return _sentence(403, "A change must come from the page itself.", here)
        if not _alike(headers.get(TOKEN_HEADER, ""), self.doors.token(secret)):
            return _sentence(403, "This page is from an earlier run; load it again.", here)
        length = headers.get("content-length", "")
        # a body that comes in chunks does not say how long it will be
        if not (length.isascii() and length.isdecimal() and len(length) < 12):
            return _sentence(411, "A change must say how long it is.", here)
        if int(length) > MAX_BODY:
            return _sentence(413, "That is more than one request may hold.", here)
        return None


def _alike(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode())


def _sentence(status: int, words: str, here: bool) -> Response:
    return PlainTextResponse(words, status) if here else Response(status_code=404)


async def _hardened(
    app: ASGIApp | Response, scope: Scope, receive: Receive, send: Send, nonce: str
) -> None:
    style = f"'self' 'nonce-{nonce}'" if nonce else "'self'"
    policy = (
        "default-src 'none'; script-src 'self'; connect-src 'self'; img-src 'self' blob: data:; "
        f"media-src 'self' blob:; style-src {style}; form-action 'self'; frame-ancestors 'none'; "
        "base-uri 'none'"
    )

    async def send_hardened(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = policy
            headers["referrer-policy"] = "no-referrer"
            headers["x-content-type-options"] = "nosniff"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers["cross-origin-resource-policy"] = "same-origin"
            # our own scripts are asked after each time; pages and answers are never kept
            own = scope["path"].startswith("/static/")
            headers.setdefault("cache-control", "no-cache" if own else "no-store")
        await send(message)

    await app(scope, receive, send_hardened)


def hosts(port: int, addresses: Iterable[str] = ()) -> frozenset[str]:
    """Give the `Host` headers that are ours: this machine's names and addresses with the port."""
    names = ["127.0.0.1", "localhost", "[::1]", *addresses]
    return frozenset(f"{name}:{port}" for name in names)
