"""What the page can do the command line can, and the other way round: both lists are walked."""

from __future__ import annotations

from starlette.routing import Mount, Route
from typer.main import get_command

from desk.cli import app as program
from desk.web.app import create_app

# Each command with the address on the page that does the same (its method before it), or why none.
PAGES = {
    "add": "POST /job/{job:int}/add",
    "aircraft": "POST /job/{job:int}/arrange",
    "amend": "POST /job/{job:int}/decide",
    "aside": "POST /job/{job:int}/arrange",
    "back": "POST /job/{job:int}/arrange",
    "backup": "POST /keep/backup",
    "begin": "POST /begin",
    "book": "GET /record/book.pdf",
    "check": "POST /keep/check",
    "checklist": "GET /job/{job:int}/checklist",
    "clock": "POST /job/{job:int}/arrange",
    "close": "POST /job/{job:int}/close",
    "confirm": "POST /job/{job:int}/decide",
    "correct": "POST /record/{job:int}/correct",
    "defect": "POST /record/{job:int}/defect",
    "defects": "GET /",
    "desk": "GET /",
    "drafts": "GET /job/{job:int}",
    "due": "GET /record",
    "entry": "GET /record/{job:int}/entry.pdf",
    "export": "POST /keep/export",
    "fields": "GET /job/{job:int}",
    "find": "GET /search",
    "head": "GET /keep",
    "history": "GET /record",
    "import": "POST /keep/import",
    "intake": "POST /upload",
    "jobs": "GET /",
    "join": "POST /job/{job:int}/arrange",
    "kind": "POST /job/{job:int}/arrange",
    "lab add": "POST /oil/add",
    "lab correct": "POST /oil/correct",
    "lab import": "POST /oil/file",
    "lab list": "GET /oil",
    "lab read": "POST /oil/photo",
    "lab show": "POST /oil/look",
    "lessons": "POST /words",
    "meter": "POST /aircraft/meter",
    "models get": "POST /models/fetch",
    "models list": "GET /keep",
    "models verify": "POST /keep/models",
    "move": "POST /job/{job:int}/arrange",
    "recover": "POST /keep/recover",
    "reject": "POST /job/{job:int}/decide",
    "review": "GET /job/{job:int}",
    "signed": "POST /record/{job:int}/signed",
    "slip": "GET /job/{job:int}/slip",
    "split": "POST /job/{job:int}/arrange",
    "sums": "GET /job/{job:int}/sums",
    "torque": "GET /torque",
    "trend": "GET /oil/trend.svg",
    "try": "POST /help/try",
    "undo": "POST /job/{job:int}/decide",
}
TERMINAL_ONLY = {
    "key make": "a secret is made where only its owner's hands are, and no browser remembers it",
    "listen": "takes this machine's own microphone, as the page *Phone* takes a phone's",
    "demo": "shows the program to who has no memo yet, in a home that is thrown away",
}
# What the page has beside: the parts that its pages are made of, and what a file is written for.
BESIDE = {
    "GET /open/{key}": "the door itself",
    "GET /begin": "the questions of `begin`",
    "GET /aircraft": "the profile, which is a file to the command line",
    "POST /aircraft": "the profile, which is a file to the command line",
    "POST /aircraft/recurring": "the profile, which is a file to the command line",
    "POST /aircraft/reference": "the profile, which is a file to the command line",
    "GET /people": "names to choose from; a command is given its name each time",
    "POST /people": "names to choose from; a command is given its name each time",
    "GET /words": "what `lessons` shows",
    "POST /keep/plan": "what `backup` takes as options",
    "POST /keep/look": "what an export holds, before `import`",
    "GET /help": "what the README says",
    "POST /help/hear": "what `try` makes of a memo",
    "GET /task/{name}": "how far long work is",
    "POST /job/{job:int}/read": "marked words, which `amend` takes as typed",
    "GET /job/{job:int}/left": "what `close` lists",
    "GET /job/{job:int}/arrange": "a job's files, as `jobs --job` lists them",
    "GET /draft/{draft:int}": "one draft, as `drafts` lists it",
    "GET /draft/{draft:int}/crop": "the evidence itself",
    "GET /media/{media:int}/sound": "the evidence itself",
    "GET /media/{media:int}/peaks": "the evidence itself",
    "GET /media/{media:int}/photo": "the evidence itself",
    "GET /due.ics": "what `due --ics` writes",
    "GET /record/{job:int}": "what `entry` prints",
    "GET /intake/events": "how far the intake is",
    "GET /upload/{number}": "a file's pieces",
    "POST /upload/{number}": "a file's pieces",
    "POST /upload/{number}/done": "a file's pieces",
}
PHONE = (
    "/phone",
    "/pair",
    "/upload",
)  # what a phone does is what a folder of files does to `intake`


def commands():
    """Every command by its words, those of a group after the group's."""
    found = {}
    for name, one in get_command(program).commands.items():
        inner = getattr(one, "commands", None)
        found |= {f"{name} {sub}": c for sub, c in inner.items()} if inner else {name: one}
    return found


def addresses(desk):
    """Every address of the page with its method, as `GET /record`."""
    found = set()
    for route in create_app(desk).routes:
        if isinstance(route, Route):
            found |= {f"{m} {route.path}" for m in (route.methods or ()) if m != "HEAD"}
        else:
            assert isinstance(route, Mount)
    return found


def test_every_command_has_its_page_or_a_reason_why_not():
    named = set(PAGES) | set(TERMINAL_ONLY)
    assert set(commands()) - named == set()
    assert named - set(commands()) == set()


def test_every_address_of_the_page_belongs_to_a_command_or_says_what_it_is(filled):
    there = addresses(filled.desk)
    named = set(PAGES.values()) | set(BESIDE)
    phones = {one for one in there if one.partition(" ")[2].startswith(PHONE)}
    assert there - named - phones == set()
    assert named - there == set()
