"""What a command did to the disk below one folder, call by call, out of strace's record of it.

`OPTIONS` is how strace has to be asked. Calls are taken in the order in which they ended. What
cannot be followed with certainty (a file mapped for writing, a call that is not known) is an error,
never left out: only SQLite's `-shm` may be mapped, which is made anew at each opening and is lost
here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from tests.whole.disk import SHM, Disk, Node

CALLS = (
    *("openat", "creat", "open", "close", "dup", "dup2", "dup3", "fcntl", "lseek", "mmap"),
    *("write", "pwrite64", "writev", "pwritev", "pwritev2", "sendfile", "copy_file_range"),
    *("ftruncate", "truncate", "fallocate", "fsync", "fdatasync", "mkdir", "mkdirat", "rmdir"),
    *("rename", "renameat", "renameat2", "link", "linkat", "symlink", "symlinkat"),
    *(
        "unlink",
        "unlinkat",
        "chmod",
        "fchmod",
        "chdir",
        "fchdir",
        "clone",
        "clone3",
        "fork",
        "vfork",
    ),
)
OPTIONS = ("-f", "-y", "-xx", "-s", "16777216", "-e", f"trace={','.join(CALLS)}")
LINE = re.compile(r"^(?P<pid>\d+) +(?P<what>.*)$")
CALL = re.compile(r"^(?P<name>\w+)\((?P<args>.*)\) += (?P<gave>-?\d+|0x[0-9a-f]+)")
FLAG = re.compile(r"\b[A-Z][A-Z0-9_]+\b")
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
BASE = re.compile(r"<((?:\\x[0-9a-f]{2})*)>(?:, )?$")
NAMED = re.compile(r"<[^>]*>")


def _text(hexed: str) -> bytes:
    return bytes.fromhex(hexed.replace("\\x", ""))


def calls(log: Path) -> Iterator[tuple[int, str, str, int]]:
    """Give thread, name, arguments and result of every call that was done, as it ended."""
    begun: dict[str, str] = {}
    for line in log.read_text("ascii").splitlines():
        match = LINE.match(line)
        if match is None:
            continue
        pid, what = match["pid"], match["what"]
        if what.endswith("<unfinished ...>"):
            begun[pid] = what.removesuffix("<unfinished ...>").rstrip()
            continue
        if what.startswith("<... "):
            what = begun.pop(pid) + re.sub(r"^<\.\.\. \w+ resumed>", "", what)
        if (done := CALL.match(what)) and not done["gave"].startswith("-"):
            yield int(pid), done["name"], done["args"], int(done["gave"], 0)


@dataclass(slots=True)
class Open:
    """A file as it was opened: what it is, and where the next bytes go; None where not known."""

    node: Node | None
    at: int | None = 0
    end: bool = False  # each write goes to its end
    says: bool = False  # it is the command's own output


@dataclass(frozen=True, slots=True)
class Call:
    """A call that was done: its name, what strace shows in its brackets, and what it gave."""

    name: str
    args: str
    gave: int
    table: dict[int, Open]
    """The files that are open in the program, by their numbers."""

    @property
    def bare(self) -> str:
        """The arguments without texts and without what numbers stand for."""
        return TEXT.sub('""', NAMED.sub("", self.args))

    @property
    def numbers(self) -> list[int]:
        """The numbers among them."""
        return [int(found) for found in re.findall(r"(?<!\w)\d+", self.bare)]

    @property
    def text(self) -> bytes:
        """All that is in quotation marks, in one."""
        return b"".join(_text(found) for found in TEXT.findall(self.args))

    @property
    def rights(self) -> int:
        """The last argument, as rights are written."""
        return int(self.bare.rpartition(" ")[2], 8)


@dataclass
class Follower:
    """Follows a command's calls, and does on a `Disk` what they did; `said` is where it prints."""

    disk: Disk
    said: Path
    tables: dict[int, dict[int, Open]] = field(default_factory=dict)
    group: dict[int, int] = field(default_factory=dict)
    where: PurePosixPath | None = None
    """The folder that the program has gone to; None: where it was started."""

    def follow(self, log: Path) -> None:
        """Do all that a record tells of. Raises ValueError for what cannot be followed."""
        by_path = {
            **dict.fromkeys(("openat", "open", "creat"), self._open),
            **dict.fromkeys(("rename", "renameat", "renameat2", "link", "linkat"), self._named),
            **dict.fromkeys(("unlink", "unlinkat", "rmdir", "mkdir", "mkdirat"), self._one_name),
            **dict.fromkeys(("symlink", "symlinkat", "truncate"), self._refused),
            **dict.fromkeys(("chdir", "fchdir"), self._gone),
            "chmod": self._rights,
            "mmap": self._mapped,
        }
        for pid, name, args, gave in calls(log):
            own = self.group.setdefault(pid, pid)
            call = Call(name, args, gave, self.tables.setdefault(own, {}))
            if name in ("clone", "clone3", "fork", "vfork"):
                self._born(own, gave, args)
            elif name.startswith("dup") or (name == "fcntl" and "F_DUPFD" in args):
                call.table[gave] = call.table.get(call.numbers[0]) or Open(None)
            elif name == "close":
                call.table.pop(call.numbers[0], None)
            elif name in by_path:
                by_path[name](call)
            elif name != "fcntl":
                self._handled(call)

    def _born(self, parent: int, child: int, args: str) -> None:
        if "CLONE_THREAD" in args:
            self.group[child] = parent
        else:
            self.tables[child] = dict(self.tables[parent])

    def _open(self, call: Call) -> None:
        path = self._path(call, 0)
        call.table[call.gave] = self._opened(path, set(FLAG.findall(call.bare)), call.name)

    def _opened(self, path: PurePosixPath, flags: set[str], name: str) -> Open:
        if str(path) == str(self.said):
            return Open(None, says=True)
        where = self._inside(path)
        if where is None:
            return Open(None)
        made = name == "creat" or "O_CREAT" in flags
        node = self.disk.at(where) or (self.disk.create(where) if made else None)
        if node is None:
            raise ValueError(f"{where} was opened, and is not known")
        if node.data and ("O_TRUNC" in flags or name == "creat"):
            self.disk.cut(node, 0)
        reads = "O_RDWR" in flags and bool(node.data)  # what it reads moves where it writes
        return Open(node, None if reads else 0, end="O_APPEND" in flags)

    def _handled(self, call: Call) -> None:
        """Do what a call does to the file of a number."""
        number = call.numbers[0]
        if number in (1, 2) and number not in call.table:  # opened before strace took hold
            call.table[number] = Open(None, says=f"<{_hexed(self.said)}>" in call.args)
        out = call.table.get(number) or Open(None)
        if out.says and call.name in ("write", "writev"):
            self.disk.say(call.text[: call.gave])
        elif call.name == "lseek":
            out.at = call.gave
        elif out.node is not None:
            self._done(call, out, out.node)

    def _done(self, call: Call, out: Open, node: Node) -> None:
        match call.name:
            case "fsync" | "fdatasync":
                self.disk.flush(node)
            case "ftruncate":
                self.disk.cut(node, call.numbers[1])
            case "fchmod":
                self.disk.chmod(node, call.rights)
            case "pwrite64":
                self.disk.write(node, call.numbers[-1], call.text[: call.gave])
            case "write" | "writev":
                self._written(out, node, call.text[: call.gave])
            case "sendfile":
                source = call.table[call.numbers[1]].node
                if source is None or "[" not in call.bare:
                    raise ValueError("the source of sendfile is not known")
                first = call.numbers[2]
                self._written(out, node, source.data[first : first + call.gave])
            case _:
                raise ValueError(f"{call.name} is not followed: {call.bare}")

    def _written(self, out: Open, node: Node, data: bytes) -> None:
        if out.at is None and not out.end:
            raise ValueError(f"where in {self.disk.names(node)} was written is not known")
        at = len(node.data) if out.end else out.at or 0
        self.disk.write(node, at, data)
        out.at = at + len(data)

    def _mapped(self, call: Call) -> None:
        parts = call.bare.split(", ")
        found = call.table.get(int(parts[4])) if parts[4].isdigit() else None
        shared = "MAP_SHARED" in parts[3] and "PROT_WRITE" in parts[2]
        if not shared or found is None or found.node is None:
            return
        names = self.disk.names(found.node)
        if not any(name.endswith(SHM) for name in names):
            raise ValueError(f"{names} is written through memory")

    def _named(self, call: Call) -> None:
        old, new = self._path(call, 0), self._path(call, 1)
        there, where = self._inside(old), self._inside(new)
        if there is None and where is None:
            return
        if there is None or where is None or re.search("RENAME_(EXCHANGE|WHITEOUT)", call.bare):
            raise ValueError(f"{call.name} is not followed: {old} {new}")
        (self.disk.rename if call.name.startswith("rename") else self.disk.link)(there, where)

    def _one_name(self, call: Call) -> None:
        if where := self._inside(self._path(call, 0)):
            (self.disk.make if "mkdir" in call.name else self.disk.unlink)(where)

    def _rights(self, call: Call) -> None:
        where = self._inside(self._path(call, 0))
        if where is not None and (node := self.disk.at(where)):
            self.disk.chmod(node, call.rights)

    def _refused(self, call: Call) -> None:
        if self._inside(self._path(call, -1)):
            raise ValueError(f"{call.name} is not followed")

    def _gone(self, call: Call) -> None:
        named = BASE.search(call.args)
        self.where = _base(named) if call.name == "fchdir" else self._path(call, 0)

    def _path(self, call: Call, which: int) -> PurePosixPath:
        """Give the path that is named in a call, the first or second of them, whole."""
        found = list(TEXT.finditer(call.args))[which]
        own = PurePosixPath(_text(found[1]).decode("utf-8", "surrogateescape"))
        base = _base(BASE.search(call.args[: found.start()])) or self.where
        if not own.is_absolute() and base is None:
            raise ValueError(f"where {own} lies is not known")
        return own if base is None else base / own

    def _inside(self, path: PurePosixPath) -> PurePosixPath | None:
        top = PurePosixPath(str(self.disk.top))
        return path.relative_to(top) if path.is_relative_to(top) else None


def _base(match: re.Match[str] | None) -> PurePosixPath | None:
    named = _text(match[1]).decode("utf-8", "surrogateescape") if match else ""
    return PurePosixPath(named) if named else None


def _hexed(path: Path) -> str:
    return "".join(f"\\x{byte:02x}" for byte in str(path).encode())
