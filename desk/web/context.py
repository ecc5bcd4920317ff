"""What every page works with, and how a page is filled in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse

if TYPE_CHECKING:
    from starlette.requests import Request

    from capture.vault import Vault
    from desk.settings import Settings
    from desk.web.doors import Doors
    from desk.web.inbox import Inbox
    from desk.web.runner import Runner
    from extract.values.catalogue import Catalogue
    from record.store import Store

HERE = Path(__file__).parent


@dataclass
class Desk:
    """An open home with its doors. `address` is where a phone finds this machine, empty without."""

    settings: Settings
    store: Store
    vault: Vault
    catalogue: Catalogue
    doors: Doors
    inbox: Inbox
    runner: Runner
    address: str = ""

    @cached_property
    def _templates(self) -> Environment:
        return Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=select_autoescape(default=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def page(self, request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
        """Fill in a template; every value is escaped."""
        shared = {
            "here": "",
            "lan": bool(self.address),
            "nonce": request.scope["state"].get("nonce", ""),
            "registration": self.settings.profile.registration,
            "token": request.scope["state"].get("token", ""),
        }
        html = self._templates.get_template(name).render({**shared, **values})
        return HTMLResponse(html, status)


def desk_of(request: Request) -> Desk:
    """Give the desk that a request came to."""
    found: Desk = request.app.state.desk
    return found
