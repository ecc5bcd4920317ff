"""How many connections each address may hold: counted where they are accepted, before a byte.

A neighbour who opens thousands of connections is turned away at once, so that there is always a
connection left for the owner, who comes from this machine by a socket of its own.
"""

from __future__ import annotations

import socket
from contextlib import suppress
from weakref import WeakSet

from capture.errors import InputError
from desk.web.doors import is_loopback

EACH = 24  # connections of one address of the network; a browser opens about six
ALL = 200  # of all addresses of the network together
HERE = 256  # of this machine
AT_ONCE = 64  # turned away in one go, before whoever else waits is looked at again
FILES = 4096  # open files wanted of the system, where it allows as many


class Gate:
    """The connections that are open, by the address that they came from."""

    def __init__(self, each: int = EACH, everyone: int = ALL, here: int = HERE) -> None:
        self._each, self._everyone, self._here = each, everyone, here
        self._open: dict[str, WeakSet[socket.socket]] = {}

    def admits(self, connection: socket.socket, address: str) -> bool:
        """Count a connection in, unless its address or all addresses hold too many already."""
        here = is_loopback(address)
        mine = self._living(address)
        if len(mine) >= (self._here if here else self._each):
            return False
        if not here and sum(map(len, map(self._living, self._others()))) >= self._everyone:
            return False
        mine.add(connection)
        self._open[address] = mine
        return True

    def _others(self) -> list[str]:
        return [address for address in self._open if not is_loopback(address)]

    def _living(self, address: str) -> WeakSet[socket.socket]:
        """Give the open connections of an address, and forget an address that has none."""
        living = WeakSet(one for one in self._open.get(address, ()) if one.fileno() != -1)
        if living:
            self._open[address] = living
        else:
            self._open.pop(address, None)
        return living


class Listening(socket.socket):
    """A socket that accepts what a gate admits, and closes everything else unread."""

    gate: Gate

    def accept(self) -> tuple[socket.socket, tuple[str, int]]:
        """Give the next connection that is let in; raises BlockingIOError where none waits."""
        for _ in range(AT_ONCE):
            connection, address = super().accept()
            if self.gate.admits(connection, address[0]):
                return connection, address
            connection.close()
        raise BlockingIOError


def listen(address: str, port: int, gate: Gate | None = None) -> Listening:
    """Open a port to listen on, behind a gate. Raises InputError where it is taken."""
    made = Listening(socket.AF_INET, socket.SOCK_STREAM)
    made.gate = gate or Gate()
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
    except (OSError, OverflowError) as error:
        made.close()
        why = getattr(error, "strerror", None) or "it is no port"
        raise InputError(
            f"port {port} cannot be opened ({why})", todo="name another with --port"
        ) from None
    made.listen(AT_ONCE)
    return made


def want_files() -> None:
    """Ask the system for enough open files; some give a program no more than 256."""
    with suppress(ImportError, OSError, ValueError):  # Windows counts otherwise
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
