"""Serve the page: on this machine alone, or with `lan` for a paired phone too."""

from __future__ import annotations

import socket
import webbrowser
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import uvicorn

from capture.errors import InputError
from capture.vault import Vault
from desk import engines
from desk.intake import Summary, take_in
from desk.web.app import create_app
from desk.web.context import Desk
from desk.web.doors import Doors, hosts
from desk.web.inbox import Inbox
from desk.web.runner import Runner

if TYPE_CHECKING:
    from desk.observe import Ear, Eye
    from desk.opening import Opened


def make_desk(
    here: Opened,
    *,
    port: int,
    lan_address: str = "",
    ear: Ear | None = None,
    eye: Eye | None = None,
) -> Desk:
    """Make the desk of an open home; `lan_address` is this machine's address in the network.

    `ear` and `eye` stand in for the models, which are loaded at the first memo or photo.
    """
    vault = Vault(here.settings.vault_dir)
    ear, eye = ear or engines.LateEar(here.settings), eye or engines.LateEye(here.settings)

    def work(report: Any) -> Summary:
        # what was sent lies in the vault already; the run finishes whatever is not yet heard
        return take_in([], here.settings, here.store, vault, ear, eye, report, here.catalogue)

    names = [lan_address] if lan_address else []
    return Desk(
        here.settings,
        here.store,
        vault,
        here.catalogue,
        Doors(hosts(port, names), lan=bool(lan_address)),
        Inbox(here.settings.home / "inbox", vault),
        Runner(work),
        f"{lan_address}:{port}" if lan_address else "",
    )


def run(here: Opened, *, port: int, lan: bool, show: bool, tell: Callable[[str], None]) -> None:
    """Serve until interrupted; `tell` is given the lines to print.

    Raises:
        InputError: the port is taken.
    """
    listening = listen("0.0.0.0" if lan else "127.0.0.1", port)  # noqa: S104  (asked for by --lan)
    port = listening.getsockname()[1]
    desk = make_desk(here, port=port, lan_address=_own_address() if lan else "")
    link = f"http://127.0.0.1:{port}/open/{desk.doors.invite('desk')}"
    tell(f"The desk is open at {link}")
    tell("The link works once, for ten minutes. Ctrl-C closes the desk.")
    if lan:
        tell(
            f"A phone is paired on the page “Phone”; it must reach {desk.address} in this network."
        )
    if show:
        webbrowser.open(link)
    desk.runner.wake()  # what an earlier run did not finish
    server = uvicorn.Server(config(desk))
    desk.runner.ended = lambda: server.should_exit
    server.run(sockets=[listening])


def config(desk: Desk) -> uvicorn.Config:
    """Give how the page is served.

    There is no access log, which would hold the links, and no server's name; where a request came
    from is what the connection says, whatever its headers tell.
    """
    return uvicorn.Config(
        create_app(desk),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        timeout_graceful_shutdown=2,  # an open page goes on listening for news of the intake
    )


def listen(address: str, port: int) -> socket.socket:
    """Open a port to listen on. Raises InputError where it is taken."""
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
    except OSError as error:
        made.close()
        raise InputError(
            f"port {port} cannot be opened ({error.strerror})", todo="name another with --port"
        ) from None
    made.listen(64)
    return made


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
