"""How quick pages and check are over years: python benchmarks/years.py HOME [--make JOBS] [--cpu].

`--make` fills a new home with as many invented services first (about a third of a second each).
Prints for each page the time until it is loaded, its first paint, its own size, and what it loads
of script and style; this needs Debian's `chromium`. With `--cpu` it prints instead, without a
browser, the seconds of one core that a check and each page take, which tell the same on a machine
that is busy for others.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

from playwright.sync_api import Browser, sync_playwright  # noqa: E402

from benchmarks.page import served  # noqa: E402
from capture.vault import Vault  # noqa: E402
from desk import noted, opening, upkeep, years  # noqa: E402
from desk.opening import Opened  # noqa: E402
from desk.settings import load  # noqa: E402
from desk.web.serve import make_desk  # noqa: E402
from record import closing, jobs, queue  # noqa: E402
from record.store import Store  # noqa: E402
from tests.desk.page.conftest import FLAGS, PORT, Filled, client_of  # noqa: E402

WHO = "Robin Vale (invented)"
STATIC = """() => performance.getEntriesByType('resource')
  .filter(e => /\\/static\\//.test(e.name)).reduce((sum, e) => sum + e.decodedBodySize, 0)"""
PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"


def make(home: Path, many: int) -> None:
    """Fill a new home with invented oil changes, ten days apart; all but the last are closed."""
    home.mkdir(parents=True)
    shutil.copyfile(years.FOLDER / "aircraft.toml", home / "aircraft.toml")
    with opening.record(home) as here:
        known = here.settings.profile.known()
        told = {"known": known, "although": "invented", "because": "invented"}
        for n in range(many):
            with here.store.session() as session:
                job = jobs.job_for(
                    session, None, new=True, kind="oil_and_filter", aircraft="N0417Q"
                )
                on = date(2000, 1, 1) + timedelta(days=10 * n)
                values = {"service_date": on.isoformat(), "tach_time": f"{2060 + 2 * n}.0"}
                for name, value in (values | {"oil_added": "7"}).items():
                    queue.add(session, job, name, value, WHO, None, here.catalogue, **told)
                if n < many - 1:
                    closing.close(
                        session, job, WHO, "invented", catalogue=here.catalogue, known=known
                    )


def pages(last: int) -> list[str]:
    """Give the addresses that are measured; the first twice, for the ledger is gathered once."""
    middle = max(1, last // 2)
    job = [f"/record/{middle}", f"/job/{middle}", f"/job/{last}", f"/job/{last}/checklist"]
    return ["/", "/", "/record", *job, "/oil", "/people", "/keep", "/search?q=oil", "/aircraft"]


def measure(browser: Browser, home: Path) -> None:
    """Open each page of a home once, and print how long it took."""
    settings = load(home, os.environ)
    store = Store.open(home)
    here = Opened(settings, opening.catalogue(settings), store)
    with store.session(write=False) as session:
        last = jobs.jobs(session)[-1].id
    print(f"{last} jobs; load: {os.getloadavg()[0]:.1f}")
    with served(Filled(here, last, 0)) as (desk, port):
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(f"http://127.0.0.1:{port}/open/{desk.doors.invite('desk')}")
        for path in pages(last):
            began = time.perf_counter()
            answer = page.goto(f"http://127.0.0.1:{port}{path}")
            took = time.perf_counter() - began
            own = len(answer.body()) / 1000 if answer else 0
            print(
                f"{path:24} loaded {took:5.2f} s  first paint {page.evaluate(PAINT) / 1000:5.2f} s"
                f"  page {own:4.0f} kB  script and style {page.evaluate(STATIC) / 1000:4.0f} kB"
            )


def cores(home: Path) -> None:
    """Print the seconds of one core, and on the wall, that a check and each page of a home take."""
    settings = load(home, os.environ)
    store = Store.open(home)
    here = Opened(settings, opening.catalogue(settings), store)
    with store.session(write=False) as session:
        last = jobs.jobs(session)[-1].id
    desk = make_desk(here, port=PORT)
    client = client_of(desk)
    client.get(f"/open/{desk.doors.invite('desk')}")
    vault, profiles = Vault(settings.vault_dir), noted.profiles(home)
    works: list[tuple[str, Callable[[], object]]] = [
        ("check", lambda: upkeep.check(store, vault, profiles=profiles))
    ]
    works += [(path, lambda at=path: client.get(at)) for path in pages(last)]  # type: ignore[misc]
    print(f"{last} jobs; load: {os.getloadavg()[0]:.1f}")
    for what, work in works:
        wall, core = time.perf_counter(), time.process_time()
        work()
        core, wall = time.process_time() - core, time.perf_counter() - wall
        print(f"{what:24} {core:5.2f} s of one core, {wall:5.2f} s on the wall")
    store.close()


def main() -> None:
    """Measure the home that is named, made first where that is asked for."""
    home = Path(sys.argv[1])
    if "--make" in sys.argv:
        make(home, int(sys.argv[sys.argv.index("--make") + 1]))
    if "--cpu" in sys.argv:
        cores(home)
        return
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        measure(browser, home)
        browser.close()


if __name__ == "__main__":
    main()
