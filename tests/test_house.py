"""The rules of the house (DEVELOPERS.md), each held by a check that names what breaks it."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from capture.errors import CowlnoteError, ExitCode

TOP = Path(__file__).parent.parent
ROOMS = ("capture", "extract", "record", "desk")
SOURCES = sorted(
    p for room in ROOMS for p in (TOP / room).rglob("*.py") if "versions" not in p.parts
)

# One room a library (rule 2): a second room that needs it asks the first. Networks run in two.
ROOM_OF = {
    "faster_whisper": "capture",
    "ctranslate2": "capture",
    "av": "capture",
    "PIL": "capture",
    "pillow_heif": "capture",
    "exifread": "capture",
    "onnxruntime": "capture extract",
    "tokenizers": "extract",
    "rapidocr": "capture",
    "spacy": "extract",
    "jellyfish": "extract",
    "pint": "extract",
    "sqlmodel": "record",
    "sqlalchemy": "record",
    "alembic": "record",
    "typer": "desk",
    "rich": "desk",
    "starlette": "desk",
    "jinja2": "desk",
    "uvicorn": "desk",
    "segno": "desk",
    "cryptography": "desk",
    "fpdf": "desk",
    "icalendar": "desk",
    "matplotlib": "desk",
}
# What the record may see of the rooms before it (rule 3): values, never engines; and the one way to
# bring a file to the disk, which is the standard library's and no engine.
SEEN_BY_RECORD = {
    "capture.flushed",
    "capture.errors",
    "capture.observed",
    *(f"extract.values.{path.stem}" for path in (TOP / "extract" / "values").glob("[a-z]*.py")),
}


def imports(path: Path) -> set[str]:
    """Give every module that a file imports, at its top or inside a function."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def test_import_contracts_hold():
    run = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(TOP)))
def test_each_library_stays_in_its_room(path):
    room = path.relative_to(TOP).parts[0]
    strangers = {
        name for name in imports(path) if room not in ROOM_OF.get(name.split(".")[0], room).split()
    }
    assert not strangers


def test_record_sees_values_only():
    modules = {".".join(p.relative_to(TOP).with_suffix("").parts) for p in SOURCES}
    for path in (TOP / "record").rglob("*.py"):
        seen = {
            n for n in imports(path) if n in modules and n.split(".")[0] in ("capture", "extract")
        }
        assert seen <= SEEN_BY_RECORD, path


def test_no_source_file_is_longer_than_400_lines():
    long = {
        str(p.relative_to(TOP)): n
        for p in SOURCES
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert not long


def test_no_function_of_the_reading_is_longer_than_40_lines():
    long = {
        f"{path.relative_to(TOP)}: {node.name}": n
        for path in sorted((TOP / "extract").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and (n := node.end_lineno - node.lineno + 1) > 40
    }
    assert not long


def test_only_the_screen_prints():
    printing = [
        str(p.relative_to(TOP))
        for p in SOURCES
        if p.relative_to(TOP) != Path("desk/say.py")
        and re.search(r"^\s*print\(", p.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    assert not printing


def test_the_page_reads_a_request_through_its_schemas_alone():
    past = re.compile(r"\.query_params|request\.(json|form|body|stream)\(")
    reading = [
        p.name
        for p in (TOP / "desk" / "web").glob("*.py")
        if p.name != "sent.py" and past.search(p.read_text(encoding="utf-8"))
    ]
    assert not reading


def errors() -> list[type[CowlnoteError]]:
    """Give every error class of the project."""
    import extract.values.catalogue  # noqa: F401  (its error class registers itself by being imported)
    import record.errors  # noqa: F401

    found, todo = [], [CowlnoteError]
    while todo:
        todo += (more := todo.pop().__subclasses__())
        found += more
    return found


def test_every_error_has_words_and_a_code_that_the_readme_lists():
    readme = (TOP / "README.md").read_text(encoding="utf-8")
    for error in errors():
        assert error.__doc__, error
        assert re.search(rf"^\| {int(error.code)} \|", readme, re.MULTILINE), error
    for code in ExitCode:
        assert re.search(rf"^\| {int(code)} \|", readme, re.MULTILINE), code


def test_every_command_is_in_the_readme():
    from typer.main import get_command

    from desk.cli import app

    readme = (TOP / "README.md").read_text(encoding="utf-8")
    commands = get_command(app).commands
    assert commands
    missing = [name for name in commands if f"`{name}" not in readme]
    assert not missing


def test_every_field_of_the_catalogue_is_in_its_page():
    from extract.values.catalogue import load

    page = (TOP / "docs" / "fields.md").read_text(encoding="utf-8")
    missing = [name for name in load().fields if f"`{name}`" not in page]
    assert not missing


def test_demo_media_are_all_listed_with_their_purpose():
    folder = TOP / "demo_media"
    listed = (folder / "README.md").read_text(encoding="utf-8")
    files = [p.name for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert files
    assert [name for name in files if name not in listed and name != "README.md"] == []


def test_locks_name_no_host_and_pin_by_hash():
    for lock in (TOP / "locks").glob("*.txt"):
        text = lock.read_text(encoding="utf-8")
        assert "://" not in text, lock
        pins = re.findall(r"^([A-Za-z0-9_.-]+)==", text, re.MULTILINE)
        assert pins
        assert text.count("--hash=sha256:") >= len(pins), lock


def test_a_wheel_carries_the_data_that_the_rooms_read():
    made = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
    assert made["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"] == list(ROOMS)


def test_docs_name_only_files_that_exist():
    for page in (TOP / "README.md", TOP / "DEVELOPERS.md"):
        text = page.read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (page.parent / target).exists(), f"{page.name} points at {target}"
