"""How quick the pages are over a record of years: python benchmarks/years.py HOME [--make JOBS].

`--make` fills a new home with as many invented services first (about a third of a second each).
Prints for each page the time until it is loaded, its first paint, its own size, and what it loads
of script and style. Needs Debian's `chromium`.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from datetime import date, timedelta
from pathlib import Path

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

from playwright.sync_api import Browser, sync_playwright  # noqa: E402

from benchmarks.page import served  # noqa: E402
from desk import opening, years  # noqa: E402
from desk.opening import Opened  # noqa: E402
from desk.settings import load  # noqa: E402
from record import closing, jobs, queue  # noqa: E402
from record.store import Store  # noqa: E402
from tests.desk.page.conftest import FLAGS, Filled  # noqa: E402

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


def main() -> None:
    """Measure the home that is named, made first where that is asked for."""
    home = Path(sys.argv[1])
    if "--make" in sys.argv:
        make(home, int(sys.argv[sys.argv.index("--make") + 1]))
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        measure(browser, home)
        browser.close()


if __name__ == "__main__":
    main()
