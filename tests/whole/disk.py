"""A disk as POSIX promises it: what was not flushed may be lost, in any order, block by block.

`Disk` is told what was done to a folder, in order, and gives the states in which a power cut may
leave it. The model is stricter than today's journalling file systems, as SQLite's own tests are:

- bytes of a file are safe once that file was flushed after them (fsync, fdatasync), each block of
  4,096 for itself; until then each may be there or not;
- a name made, changed or taken away is safe once its folder was flushed after it; a rename is whole
  or not at all, and safe with the folder that it leads to;
- a file's rights are never lost, and SQLite's `-shm`, which lives in memory, always is.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

BLOCK = 4096
SHM = "-shm"


@dataclass(eq=False, slots=True)
class Node:
    """A file or a folder as the running program sees it."""

    folder: bool = False
    data: bytes = b""
    names: dict[str, Node] = field(default_factory=dict)
    mode: int = 0o644


@dataclass(frozen=True, slots=True)
class Done:
    """One thing that was done. `kind`: write, cut, name, move, flush or say.

    `node` is what a flush makes safe with it: the file, or the folder of a name. A `name` that
    leads to nothing was taken away. `sort` says of what sort it is, for the choice of trials.
    """

    kind: str
    node: Node
    at: int = 0
    data: bytes = b""
    name: str = ""
    leads: Node | None = None
    old: tuple[Node, str] | None = None
    sort: str = ""


Keep = Callable[[int, Done], bool]
State = dict[PurePosixPath, tuple[bytes | None, int]]
"""Content and rights of each path; folders have no content."""


class Disk:
    """The folder `top` as it lay at first, safe to the last byte, and what was done to it since."""

    def __init__(self, top: Path) -> None:
        self.top = top
        self.root = _read(top)
        self.done: list[Done] = []
        self._was = {id(node): (node.data, dict(node.names)) for node in _all(self.root)}

    # What a program does

    def at(self, path: PurePosixPath) -> Node | None:
        """Give what a path leads to now."""
        found: Node | None = self.root
        for part in path.parts:
            found = found.names.get(part) if found else None
        return found

    def names(self, node: Node) -> list[str]:
        """Give every name that a file has now."""
        folders = [one for one in _all(self.root) if one.folder]
        return [name for folder in folders for name, one in folder.names.items() if one is node]

    def create(self, path: PurePosixPath) -> Node:
        """Make an empty file."""
        return self._name(path, Node())

    def make(self, path: PurePosixPath) -> Node:
        """Make a folder."""
        return self._name(path, Node(folder=True, mode=0o755))

    def link(self, old: PurePosixPath, new: PurePosixPath) -> None:
        """Give a file one more name."""
        self._name(new, self._known(old))

    def unlink(self, path: PurePosixPath) -> None:
        """Take a name away."""
        folder = self._known(path.parent)
        self._note(Done("name", folder, name=path.name, sort=f"unlink {path}"))
        del folder.names[path.name]

    def rename(self, old: PurePosixPath, new: PurePosixPath) -> None:
        """Move a name over another, or to where there was none."""
        node, source, target = self._known(old), self._known(old.parent), self._known(new.parent)
        del source.names[old.name]
        target.names[new.name] = node
        self._note(
            Done("move", target, name=new.name, leads=node, old=(source, old.name), sort=f"{new}")
        )

    def write(self, node: Node, at: int, data: bytes) -> None:
        """Write bytes into a file, from `at` on."""
        node.data = _put(node.data, at, data)
        first = 0
        while first < len(data):  # a block is there or not
            last = min(len(data), (at + first) // BLOCK * BLOCK + BLOCK - at)
            self._note(Done("write", node, at + first, data[first:last], sort=self._sort(node)))
            first = last

    def cut(self, node: Node, size: int) -> None:
        """Make a file as long as this: what is beyond is gone, what is new is zeros."""
        node.data = node.data[:size].ljust(size, b"\0")
        self._note(Done("cut", node, size, sort=self._sort(node)))

    def chmod(self, node: Node, mode: int) -> None:
        """Change the rights."""
        node.mode = mode

    def flush(self, node: Node) -> None:
        """Make safe what was done to a file, or to the names in a folder."""
        self._note(Done("flush", node, sort=self._sort(node)))

    def say(self, what: bytes) -> None:
        """Note what the program said to its user."""
        self._note(Done("say", self.root, data=what, sort="said"))

    # What a power cut leaves

    def said(self, cut: int) -> str:
        """Give all that had been said when `cut` things were done."""
        spoken = (one.data for one in self.done[:cut] if one.kind == "say")
        return b"".join(spoken).decode("utf-8", "replace")

    def state(self, cut: int, keep: Keep, *, zeros: bool = False) -> State:
        """Give the disk after the first `cut` things, of those not safe only what `keep` says.

        With `zeros` a write that is not kept leaves the file as long as it made it.
        """
        data = {key: was for key, (was, _) in self._was.items()}
        names = {key: dict(was) for key, (_, was) in self._was.items()}
        safe = self._safe(cut)
        for number, one in enumerate(self.done[:cut]):
            own = id(one.node)
            if one.kind in ("flush", "say"):
                continue
            if not safe[number] and not keep(number, one):
                if zeros and one.kind == "write":
                    size = one.at + len(one.data)
                    data[own] = data.get(own, b"").ljust(size, b"\0")
            elif one.kind == "write":
                data[own] = _put(data.get(own, b""), one.at, one.data)
            elif one.kind == "cut":
                data[own] = data.get(own, b"")[: one.at].ljust(one.at, b"\0")
            else:
                _renamed(names, one)
        made: State = {}
        _gather(self.root, PurePosixPath(), data, names, made)
        return made

    def _safe(self, cut: int) -> list[bool]:
        flushed: set[int] = set()
        safe = []
        for one in reversed(self.done[:cut]):
            if one.kind == "flush":
                flushed.add(id(one.node))
            safe.append(id(one.node) in flushed)
        return safe[::-1]

    # Within

    def _known(self, path: PurePosixPath) -> Node:
        found = self.at(path)
        if found is None:
            raise ValueError(f"{path} is not known")
        return found

    def _name(self, path: PurePosixPath, node: Node) -> Node:
        folder = self._known(path.parent)
        folder.names[path.name] = node
        self._note(Done("name", folder, name=path.name, leads=node, sort=f"make {path}"))
        return node

    def _note(self, one: Done) -> None:
        self.done.append(one)

    def _sort(self, node: Node) -> str:
        return "folder" if node.folder else " ".join(self.names(node)) or "no name"


def put(state: State, top: Path) -> None:
    """Lay a state out as the folder `top`, in the place of what is there."""
    shutil.rmtree(top, ignore_errors=True)
    top.mkdir(parents=True)
    for path, (content, mode) in state.items():
        where = top / path
        if content is None:
            where.mkdir(exist_ok=True)
        elif not path.name.endswith(SHM):
            where.write_bytes(content)
            where.chmod(mode)


def digest(state: State) -> str:
    """Give what tells a state from all others."""
    told = hashlib.sha256()
    for path, (content, mode) in sorted(state.items()):
        told.update(f"{path}\0{mode}\0{content is None}\0{len(content or b'')}\0".encode())
        told.update(content or b"")
    return told.hexdigest()


def _put(data: bytes, at: int, more: bytes) -> bytes:
    return data[:at].ljust(at, b"\0") + more + data[at + len(more) :]


def _read(path: Path) -> Node:
    if path.is_dir():
        names = {one.name: _read(one) for one in sorted(path.iterdir())}
        return Node(folder=True, names=names, mode=path.stat().st_mode & 0o777)
    return Node(data=path.read_bytes(), mode=path.stat().st_mode & 0o777)


def _all(node: Node) -> Iterator[Node]:
    yield node
    for one in node.names.values():
        yield from _all(one)


def _renamed(names: dict[int, dict[str, Node]], one: Done) -> None:
    """Do to the names of a state what was done to a name."""
    if one.old is not None:
        source = names.setdefault(id(one.old[0]), {})
        if source.get(one.old[1]) is one.leads:
            del source[one.old[1]]
    folder = names.setdefault(id(one.node), {})
    if one.leads is None:
        folder.pop(one.name, None)
    else:
        folder[one.name] = one.leads


def _gather(
    folder: Node,
    where: PurePosixPath,
    data: dict[int, bytes],
    names: dict[int, dict[str, Node]],
    made: State,
) -> None:
    for name, node in sorted(names.get(id(folder), {}).items()):
        if node.folder:
            made[where / name] = (None, node.mode)
            _gather(node, where / name, data, names, made)
        else:
            made[where / name] = (data.get(id(node), b""), node.mode)
