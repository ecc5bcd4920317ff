from __future__ import annotations

import errno
import hashlib
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from capture.errors import InputError, VaultError
from capture.vault import Vault, kind_of

WAV = b"RIFF\x24\x00\x00\x00WAVEfmt "


def _memo(folder: Path, name: str = "memo.wav", body: bytes = b"some sound") -> Path:
    path = folder / name
    path.write_bytes(WAV + body)
    return path


def test_a_kept_file_lies_under_the_sha256_of_its_bytes(tmp_path: Path) -> None:
    # source: hashlib's SHA-256 (FIPS 180-4), computed over the file apart from the vault
    memo = _memo(tmp_path)
    vault = Vault(tmp_path / "vault")
    kept = vault.keep(memo)
    assert kept.sha256 == hashlib.sha256(memo.read_bytes()).hexdigest()
    assert vault.path(kept.sha256).read_bytes() == memo.read_bytes()
    assert (kept.name, kept.kind, kept.size) == ("memo.wav", "memo", memo.stat().st_size)
    assert kept.modified.timestamp() == pytest.approx(memo.stat().st_mtime, abs=1e-3)


def test_the_same_bytes_twice_are_one_file_with_the_first_name(tmp_path: Path) -> None:
    vault = Vault(tmp_path / "vault")
    first = vault.keep(_memo(tmp_path, "a.wav"))
    again = vault.keep(_memo(tmp_path, "b.wav"))
    assert first == again
    assert list(vault.kept()) == [first]


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.binary(min_size=1, max_size=400), data=st.data())
def test_any_flipped_bit_is_found(tmp_path: Path, body: bytes, data: st.DataObject) -> None:
    # a flipped bit always differs from what was there, which a constant byte might not
    vault = Vault(tmp_path / hashlib.sha256(body).hexdigest())
    kept = vault.keep(_memo(tmp_path, body=body))
    assert vault.verify() == []
    path = vault.path(kept.sha256)
    raw = bytearray(path.read_bytes())
    raw[data.draw(st.integers(0, len(raw) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    path.chmod(0o644)
    path.write_bytes(raw)
    (problem,) = vault.verify()
    assert "memo.wav" in problem
    assert "changed" in problem


def test_missing_bytes_and_a_missing_note_are_told_apart(tmp_path: Path) -> None:
    vault = Vault(tmp_path / "vault")
    one, two = (vault.keep(_memo(tmp_path, f"{n}.wav", n.encode())) for n in ("one", "two"))
    vault.path(one.sha256).unlink()
    (vault.path(two.sha256).parent / f"{two.sha256}.json").unlink()
    problems = "\n".join(vault.verify())
    assert "only the note is left" in problems
    assert "note of where it came from" in problems


def test_keeping_again_heals_a_lost_note_and_decayed_bytes(tmp_path: Path) -> None:
    vault = Vault(tmp_path / "vault")
    memo = _memo(tmp_path)
    kept = vault.keep(memo)
    path = vault.path(kept.sha256)
    path.with_name(f"{path.name}.json").unlink()
    path.chmod(0o644)
    path.write_bytes(b"RI")
    vault.keep(memo)
    assert vault.verify() == []


@pytest.mark.parametrize(
    ("name", "head", "kind"),
    [
        ("a.jpg", b"\xff\xd8\xff\xe1", "photo"),
        ("a.jpg", b"\0\0\0\x18ftypheic", "photo"),
        ("a.m4a", b"\0\0\0\x18ftypM4A ", "memo"),
        ("a.webp", b"RIFF\0\0\0\0WEBP", "photo"),
        ("a.ogg", b"OggS", "memo"),
        ("a.amr", b"#!AMR\n", "memo"),
        ("a.webm", b"\x1aE\xdf\xa3", "memo"),
        ("a.m4a", b"this is a text", "memo"),
        ("a.JPG", b"", "photo"),
        ("a.txt", b"OggS", None),
        ("._a.m4a", b"\0\x05\x16\x07", None),
    ],
)
def test_the_kind_comes_from_the_bytes_before_the_name(
    tmp_path: Path, name: str, head: bytes, kind: str | None
) -> None:
    path = tmp_path / name
    path.write_bytes(head)
    assert kind_of(path) == kind


def test_an_empty_a_missing_and_a_foreign_file_are_refused_in_one_line(tmp_path: Path) -> None:
    vault = Vault(tmp_path / "vault")
    (tmp_path / "empty.m4a").touch()
    (tmp_path / "list.txt").write_text("milk")
    for name, word in (("empty.m4a", "empty"), ("gone.m4a", "read"), ("list.txt", "neither")):
        with pytest.raises(InputError, match=word) as caught:
            vault.keep(tmp_path / name)
        assert name in str(caught.value)
        assert "\n" not in str(caught.value)
    assert [p for p in vault.root.rglob("*") if p.is_file()] == []


@pytest.mark.parametrize(
    ("number", "word"), [(errno.ENOSPC, "disk is full"), (errno.EROFS, "cannot be written")]
)
@pytest.mark.parametrize("call", ["write", "fsync"])
def test_a_full_or_read_only_disk_is_one_line_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, word: str, call: str
) -> None:
    def fail(*_args: object) -> int:
        raise OSError(number, os.strerror(number))

    vault = Vault(tmp_path / "vault")
    memo = _memo(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(os, call, fail)
        with pytest.raises(VaultError, match=word):
            vault.keep(memo)
    assert [p for p in vault.root.rglob("*") if p.is_file()] == []
    vault.keep(memo)
    assert vault.verify() == []


def test_a_file_that_grows_while_it_is_copied_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    memo = _memo(tmp_path)
    read = os.read

    def grow(handle: int, count: int) -> bytes:
        block = read(handle, count)
        if block:
            with memo.open("ab") as file:
                file.write(b"more")
            monkeypatch.setattr(os, "read", read)
        return block

    monkeypatch.setattr(os, "read", grow)
    vault = Vault(tmp_path / "vault")
    with pytest.raises(InputError, match="still being written"):
        vault.keep(memo)
    assert list(vault.kept()) == []


@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
def test_a_kill_midway_leaves_no_half_file_and_a_second_run_finishes(tmp_path: Path) -> None:
    memo = _memo(tmp_path, body=b"x" * (3 << 20))
    script = f"""
        import os, signal
        from pathlib import Path
        from capture import vault
        def die(handle):
            os.kill(os.getpid(), signal.SIGKILL)
        vault.os.fsync = die
        vault.Vault(Path({str(tmp_path / "vault")!r})).keep(Path({str(memo)!r}))
    """
    run = subprocess.run([sys.executable, "-c", textwrap.dedent(script)], check=False)
    assert run.returncode == -signal.SIGKILL
    vault = Vault(tmp_path / "vault")
    assert list(vault.kept()) == []
    assert vault.verify() == []
    for left in vault.root.glob(".new-*"):
        os.utime(left, (0, 0))
    vault.keep(memo)
    assert len(list(vault.kept())) == 1
    assert list(vault.root.glob(".new-*")) == []
