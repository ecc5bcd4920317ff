"""Long work that a page begins and looks at: one of a kind at a time, with what was last said."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse

from capture.errors import CowlnoteError
from desk.web.context import home_desk
from record.errors import DamagedError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

Tell = Callable[[str, float | None], None]
Work = Callable[[Tell], list[str]]


@dataclass
class Task:
    """One piece of long work: what it says now, how much is done (None: unknown), how it ended.

    `damaged` names the originals for whose sake it was refused.
    """

    words: str = ""
    share: float | None = None
    going: bool = False
    failed: bool = False
    lines: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """Give it for the page."""
        return {
            "words": self.words,
            "share": self.share,
            "going": self.going,
            "failed": self.failed,
            "lines": self.lines[:200],
            "damaged": self.damaged[:200],
        }


@dataclass
class Tasks:
    """The tasks of a desk, by name."""

    _by_name: dict[str, Task] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, name: str) -> Task | None:
        """Give the task of that name, going on or ended; None where it was never begun."""
        return self._by_name.get(name)

    def begin(self, name: str, work: Work) -> Task:
        """Begin `work` in the background, unless that of the same name is still going on.

        `work` is given a function to say how far it is (words, share 0 to 1), and gives the lines
        that it ends with.
        """
        with self._lock:
            task = self._by_name.get(name)
            if task is not None and task.going:
                return task
            task = self._by_name[name] = Task("beginning", going=True)
        threading.Thread(target=_do, args=(task, work), name=name, daemon=True).start()
        return task


def _do(task: Task, work: Work) -> None:
    def tell(words: str, share: float | None = None) -> None:
        task.words, task.share = words, share

    try:
        task.lines = work(tell)
        task.words = "done"
    except CowlnoteError as error:
        task.damaged = list(error.names) if isinstance(error, DamagedError) else []
        task.words, task.failed = str(error), True
    except OSError as error:
        task.words, task.failed = f"the disk says no ({error.strerror})", True
    except Exception as error:  # noqa: BLE001  (a thread must not die without a word)
        task.words, task.failed = f"a fault in the program ({type(error).__name__})", True
    finally:
        task.going = False


def show(request: Request) -> Response:
    """Say how far a task is."""
    found = home_desk(request).tasks.get(request.path_params["name"])
    if found is None:
        raise HTTPException(404)
    return JSONResponse(found.to_json())
