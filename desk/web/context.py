"""What every page works with, and how a page is filled in."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse

from desk.web.derived import Derived
from desk.web.sent import wanted

if TYPE_CHECKING:
    from starlette.requests import Request

    from capture.vault import Vault
    from desk.observe import Ear, Eye
    from desk.readback.live import Live
    from desk.settings import Settings
    from desk.web.certificate import Certificate
    from desk.web.doors import Doors
    from desk.web.inbox import Inbox
    from desk.web.runner import Runner
    from desk.web.tasks import Tasks
    from extract.values.catalogue import Catalogue
    from record.store import Store

HERE = Path(__file__).parent


def _tasks() -> Tasks:
    from desk.web.tasks import Tasks

    return Tasks()


@dataclass
class Desk:
    """An open home with its doors.

    `address` is where a phone finds this machine, empty without; `certificate` is what it is served
    with there, None where that is not encrypted.
    """

    settings: Settings
    store: Store
    vault: Vault
    catalogue: Catalogue
    doors: Doors
    inbox: Inbox
    runner: Runner
    live: Live
    address: str = ""
    certificate: Certificate | None = None
    tasks: Tasks = field(default_factory=lambda: _tasks())
    derived: Derived = field(default_factory=Derived)
    ear: Ear | None = None
    eye: Eye | None = None

    @property
    def phone_url(self) -> str:
        """Give where a phone finds this machine, with the scheme."""
        return f"{'https' if self.certificate else 'http'}://{self.address}"

    @cached_property
    def _templates(self) -> Environment:
        return Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=select_autoescape(default=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def page(
        self, request: Request, name: str, /, status: int = 200, **values: Any
    ) -> HTMLResponse:
        """Fill in a template; every value is escaped."""
        shared = {
            "here": "",
            "lan": bool(self.address),
            "names": self._names(),
            "nonce": request.scope["state"].get("nonce", ""),
            "registration": self.settings.profile.registration,
            "token": request.scope["state"].get("token", ""),
        }
        html = self._templates.get_template(name).render({**shared, **values})
        return HTMLResponse(html, status)

    def _names(self) -> list[str]:
        from desk.web.people import names

        return names(self)

    def reload(self) -> None:
        """Read the profiles anew, after they were written."""
        import os

        from desk.noted import note_profiles
        from desk.opening import catalogue
        from desk.settings import load

        self.settings = replace(
            load(self.settings.home, os.environ), models_dir=self.settings.models_dir
        )
        self.catalogue = catalogue(self.settings)
        note_profiles(self.store, self.settings)

    def of(self, registration: str) -> Desk:
        """Give the desk as it is for another aircraft of the home; for its own, itself."""
        if not registration or registration == self.settings.profile.registration:
            return self
        from desk.opening import catalogue

        settings = self.settings.of(registration)  # its own units, meter and what recurs on it
        made = replace(self, settings=settings, catalogue=catalogue(settings))
        made.__dict__["_templates"] = self._templates  # filled in the same way, and made once
        return made


def home_desk(request: Request) -> Desk:
    """Give the desk that a request came to, with the profile of the home's own aircraft."""
    found: Desk = request.app.state.desk
    return found


def desk_of(request: Request) -> Desk:
    """Give the desk that a request came to, with the profile of the aircraft that it is about.

    That is the aircraft of the job in its path, or the one that it asks for by name.
    """
    desk = home_desk(request)
    if (job := request.path_params.get("job")) is not None:
        return desk.of(_aircraft_of(desk, job))
    asked = wanted(request).get("aircraft")
    return desk.of(asked) if asked and asked in fleet(desk) else desk


def _aircraft_of(desk: Desk, job: int) -> str:
    from record import jobs
    from record.errors import RefusedError

    try:
        with desk.store.session(write=False) as session:
            return jobs.get(session, job).aircraft or ""
    except RefusedError:
        return ""


def fleet(desk: Desk) -> list[str]:
    """Give the registrations that this home knows: by their profiles, and by their jobs."""
    from record import jobs

    known = [desk.settings.profile, *desk.settings.others.values()]
    with desk.store.session(write=False) as session:
        worked = [job.aircraft for job in jobs.jobs(session)]
    named = (*(profile.registration for profile in known), *worked)
    return list(dict.fromkeys(one for one in named if one))
