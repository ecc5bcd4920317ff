"""How quick the page is, in a real Chromium on this machine: python benchmarks/page.py.

Prints the time until a job of 40 memos and 20 photos can be worked on, the time from a key to the
next draft, the keys for 20 drafts of which 3 are doubtful, and the bytes of script and style.
Needs Debian's `chromium`. The memos are tones and the words are invented.
"""

from __future__ import annotations

import os
import platform
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

TOP = Path(__file__).parent.parent
sys.path.insert(0, str(TOP))

import uvicorn  # noqa: E402  (after the path to the project is set)
from playwright.sync_api import Browser, Page, sync_playwright  # noqa: E402

from desk.opening import Opened  # noqa: E402
from desk.web.serve import config, listen, make_desk  # noqa: E402
from tests.desk.page.conftest import Filled, fill  # noqa: E402

TIMES = 9
STEPS = 20
SEEN_AFTER = """async (key) => {
  const now = () => document.querySelector('.draft.current')?.id;
  const frame = () => new Promise(requestAnimationFrame);
  const old = now();
  const began = performance.now();
  document.activeElement.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}));
  for (let i = 0; now() === old && i < 600; i += 1) await frame();
  await frame();
  return performance.now() - began;
}"""


@contextmanager
def served(filled: Filled) -> Iterator[tuple[Any, int]]:
    """Serve a filled home on a free port."""
    listening = listen("127.0.0.1", 0)
    port = listening.getsockname()[1]
    old = filled.desk
    desk = make_desk(Opened(old.settings, old.catalogue, old.store), port=port)
    server = uvicorn.Server(config(desk))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield desk, port
    server.should_exit = server.force_exit = True
    thread.join(10)


def open_page(browser: Browser, desk: Any, port: int) -> Page:
    """Come in by the link, with a name."""
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.goto(f"http://127.0.0.1:{port}/open/{desk.doors.invite('desk')}")
    page.evaluate("localStorage.setItem('who', 'Ines Invented')")
    return page


def quickness(browser: Browser, folder: Path) -> None:
    """Time the page of a large job, and its keys."""
    filled = fill(folder, memos=40, photos=20, drafts=120, doubtful=0)
    with served(filled) as (desk, port):
        page = open_page(browser, desk, port)
        ready, answer = [], []
        for _ in range(TIMES):
            began = time.perf_counter()
            page.goto(f"http://127.0.0.1:{port}/job/{filled.job}", wait_until="commit")
            page.wait_for_selector(".draft.current")
            ready.append(time.perf_counter() - began)
            answer.append(
                page.evaluate("performance.getEntriesByType('navigation')[0].responseEnd") / 1000
            )
        print(
            f"page ready, 40 memos and 20 photos: median {statistics.median(ready):.2f} s, "
            f"best {min(ready):.2f} s (aim 0.5), of which the desk's answer "
            f"{statistics.median(answer):.2f} s"
        )
        for key, what in (("j", "next"), ("Enter", "confirm")):
            took = [page.evaluate(SEEN_AFTER, key) for _ in range(STEPS)]
            print(
                f"key ({what}) to the next draft shown: median {statistics.median(took):.0f} ms, "
                f"worst {max(took):.0f} ms (aim 50)"
            )
        page.wait_for_function("() => !document.querySelector('.draft.sending')")


def keys(browser: Browser, folder: Path) -> None:
    """Count the keys that finish a job."""
    filled = fill(folder, drafts=19, doubtful=3)
    with served(filled) as (desk, port):
        page = open_page(browser, desk, port)
        page.goto(f"http://127.0.0.1:{port}/job/{filled.job}")
        page.wait_for_selector(".draft.current")
        began, count = time.perf_counter(), 0
        while page.locator(".draft.current").count() and count < 60:
            doubtful = page.locator(".draft.current.doubtful").count()
            if doubtful:  # heard first, then decided by its number
                page.keyboard.press(" ")
                count += 1
            page.keyboard.press("2" if doubtful else "Enter")
            count += 1
        page.wait_for_function("() => document.querySelectorAll('.waiting, .sending').length === 0")
        seconds = time.perf_counter() - began
        print(
            f"keys for 20 drafts, 3 doubtful and each of those heard: {count} (aim 30), "
            f"{seconds:.1f} s by a machine's fingers"
        )


def main() -> None:
    """Serve invented jobs and measure."""
    chromium = shutil.which("chromium")
    if chromium is None:
        print("no Chromium on this machine: nothing measured")
        return
    load = ", ".join(f"{x:.1f}" for x in os.getloadavg())
    print(f"{platform.machine()}, {os.cpu_count()} cores, load {load}")
    static = TOP / "desk" / "web" / "static"
    sent = sum(p.stat().st_size for p in static.rglob("*") if p.suffix in (".js", ".css"))
    print(f"bytes of script and style: {sent:,} (aim 200,000)")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        flags = ["--no-sandbox", "--disable-gpu"]
        browser = play.chromium.launch(executable_path=chromium, args=flags)
        quickness(browser, Path(folder) / "large")
        keys(browser, Path(folder) / "usual")
        browser.close()


if __name__ == "__main__":
    main()
