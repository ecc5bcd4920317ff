"""Serve the page: on this machine alone, or with `lan` for a paired phone too.

This machine's own pages go by HTTP on the loopback address, which nobody else reaches. A phone gets
TLS on the machine's address in the network, with the home's own certificate.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import webbrowser
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, cast

import uvicorn

from capture.errors import InputError
from capture.turns import Turns
from capture.vault import Vault
from desk import engines
from desk.intake import Summary, take_in
from desk.readback.live import Live
from desk.web import arriving, keep, pairing
from desk.web.app import create_app
from desk.web.certificate import own_name, provide
from desk.web.context import Desk
from desk.web.doors import Doors, hosts
from desk.web.gate import AT_ONCE, Gate, listen, want_files
from desk.web.inbox import Inbox
from desk.web.limits import IDLE_S, LOG, Limited
from desk.web.runner import Runner

if TYPE_CHECKING:
    from desk.observe import Ear, Eye
    from desk.opening import Opened
    from desk.readback.phrases import QuickEar
    from desk.web.certificate import Certificate


PHONES = "phones.json"  # in the home: which phones are paired


def make_desk(
    here: Opened,
    *,
    port: int,
    lan_address: str = "",
    lan_port: int = 0,
    names: Iterable[str] = (),
    certificate: Certificate | None = None,
    ear: Ear | None = None,
    eye: Eye | None = None,
) -> Desk:
    """Make the desk of an open home; `lan_address` is this machine's address in the network.

    A phone finds it there at `lan_port` (`port` where that is 0), also by `names`, over TLS where
    there is a `certificate`.

    `ear` and `eye` stand in for the models, which are loaded at the first memo or photo.
    """
    vault = Vault(here.settings.vault_dir)
    turns = Turns()
    ear = ear or engines.LateEar(here.settings, turns=turns)
    eye = engines.OneLook(eye or engines.LateEye(here.settings), turns)
    quick = cast("QuickEar", ear) if hasattr(ear, "quick") else None
    live = Live(here.settings, here.catalogue, here.store, quick, eye)

    def work(report: Any) -> Summary:
        # what was sent lies in the vault already; the run finishes whatever is not yet heard
        return take_in([], made.settings, here.store, vault, ear, eye, report, made.catalogue)

    away = [lan_address, *names] if lan_address else []
    lan_port = lan_port or port
    made = Desk(
        here.settings,
        here.store,
        vault,
        here.catalogue,
        Doors(hosts(port) | hosts(lan_port, away), bool(lan_address), here.settings.home / PHONES),
        Inbox(here.settings.home / "inbox", vault),
        Runner(work, after=live.settled),
        live,
        f"{lan_address}:{lan_port}" if lan_address else "",
        certificate,
        ear=ear,
        eye=eye,
    )
    return made


def run(
    here: Opened,
    *,
    port: int,
    lan: bool,
    show: bool,
    tell: Callable[[str], None],
    plain: bool = False,
    square: bool = False,
) -> None:
    """Serve until interrupted; `tell` is given the lines to print.

    With `lan` a phone in the network may be paired, over TLS unless `plain`; with `square` the
    square that pairs one is among the lines.

    Raises:
        InputError: the port is taken, this machine is in no network, or its certificate is broken.
    """
    want_files()
    gate = Gate()
    # the owner comes in by a socket of this machine alone, where no neighbour can stand in line
    own = listen("127.0.0.1", port, gate)
    port = own.getsockname()[1]
    if not lan:
        desk = make_desk(here, port=port)
        servers = [(Server(config(desk)), own)]
    else:
        address, name = _own_address(), own_name()
        names = [name] if name else []
        certificate = None if plain else provide(here.settings.home, [address, *names])
        far = listen(address, port, gate)
        desk = make_desk(here, port=port, lan_address=address, names=names, certificate=certificate)
        servers = [(Server(config(desk)), own), (Server(config(desk, certificate)), far)]
    link = f"http://127.0.0.1:{port}/open/{desk.doors.invite('desk')}"
    tell(f"The desk is open at {link}")
    tell("The link works once, for ten minutes. Ctrl-C closes the desk.")
    for line in _for_the_phone(desk, square):
        tell(line)
    if show:
        webbrowser.open(link)
    arriving.keep_left_off(desk)
    desk.runner.wake()  # what an earlier run did not finish
    keep.watch(desk)
    serve_all(desk, servers)


def _for_the_phone(desk: Desk, square: bool) -> Iterator[str]:
    if not desk.address:
        return
    if square:
        yield pairing.terminal_square(desk)
    yield f"A phone is paired on the page “Phone”; it must reach {desk.phone_url} in this network."
    if desk.certificate is None:
        yield "What it sends is not encrypted, and it cannot listen without a touch for each memo."
        return
    yield f"The desk's authority, for the phone to trust (SHA-256): {desk.certificate.fingerprint}"
    yield f"The certificate that it serves with (SHA-256): {desk.certificate.served}"


class Server(uvicorn.Server):
    """A server that can be one of several in a process: only the first watches for Ctrl-C."""

    watches = True

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Watch for Ctrl-C and the like, where this is the first of the servers."""
        if self.watches:
            with super().capture_signals():
                yield
        else:
            yield


def serve_all(desk: Desk, servers: Sequence[tuple[Server, socket.socket]]) -> None:
    """Serve one desk on several sockets until the first of them ends; then end the others."""
    (first, own), *others = servers
    desk.runner.ended = lambda: first.should_exit

    async def all_of_them() -> None:
        tasks = []
        for server, place in others:
            server.watches = False
            tasks.append(asyncio.create_task(server.serve(sockets=[place])))
        await first.serve(sockets=[own])
        for server, _ in others:
            server.should_exit = True
        await asyncio.gather(*tasks)

    try:
        asyncio.run(all_of_them())
    finally:
        desk.live.close()


def config(desk: Desk, certificate: Certificate | None = None) -> uvicorn.Config:
    """Give how the page is served, with a certificate over TLS (1.2 or newer).

    There is no access log, which would hold the links, and no server's name; where a request came
    from is what the connection says, whatever its headers tell. A connection has its limits
    (`desk.web.limits`), and what goes wrong on one is a line.
    """
    return uvicorn.Config(
        create_app(desk),
        http=Limited,
        ws="none",
        timeout_keep_alive=IDLE_S,
        backlog=AT_ONCE,
        log_config=LOG,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        timeout_graceful_shutdown=2,  # an open page goes on listening for news of the intake
        ssl_certfile=certificate.cert_file if certificate else None,
        ssl_keyfile=certificate.key_file if certificate else None,
    )


def _own_address() -> str:
    """Give this machine's address in its network, without sending anything."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address; UDP connect sends nothing
            return str(probe.getsockname()[0])
        except OSError:
            raise InputError(
                "this machine is in no network", todo="join the network that the phone is in"
            ) from None
