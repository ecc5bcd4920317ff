"""Heads signed with an owner's key (Ed25519, RFC 8032), which never lies in the home."""

from __future__ import annotations

import base64
import os

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from desk import keys
from record.errors import IntegrityError


@pytest.fixture
def key(tmp_path, monkeypatch):
    path = tmp_path / "settings" / "key.pem"
    monkeypatch.setenv("COWLNOTE_KEY", str(path))
    return path


def test_a_signature_is_that_of_the_standard():
    """RFC 8032, section 7.1, test 1: the empty message."""
    secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    made = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    assert made.public_key().public_bytes_raw().hex() == public
    signed = keys.statement(3, "a" * 64, "2026-03-14T09:12:05+01:00", made)
    assert f"key ed25519:{base64.b64encode(bytes.fromhex(public)).decode()}" in signed
    found = keys.read(f"kept on paper:\n{signed}\n")
    assert (found.number, found.hash) == (3, "a" * 64)


@pytest.mark.parametrize(
    ("old", "new"), [("head 3", "head 4"), ("aaaa", "aaab"), ("09:12", "09:13")]
)
def test_a_head_that_is_not_what_was_signed_is_refused(old, new):
    made = Ed25519PrivateKey.generate()
    signed = keys.statement(3, "a" * 64, "2026-03-14T09:12:05+01:00", made)
    with pytest.raises(IntegrityError, match="is not of what stands there"):
        keys.read(signed.replace(old, new, 1))
    assert keys.read("head 3") is None


def test_a_key_is_made_once_outside_the_home_and_for_its_owner_alone(cowlnote, record, home, key):
    assert cowlnote("key", "make", home / "key.pem").code == 7
    ran = cowlnote("key", "make")
    assert (ran.code, "ed25519:" in ran.out) == (0, True)
    if os.name != "nt":
        assert key.stat().st_mode & 0o777 == 0o600
    held = key.read_bytes()
    assert cowlnote("key", "make").code == 7
    assert key.read_bytes() == held
    key.chmod(0o644)
    assert (cowlnote("head").code, cowlnote("head").err.count("\n")) == (7, 1)
    key.chmod(0o600)
    key.write_text("x")
    assert (cowlnote("head").code, cowlnote("head").err.count("\n")) == (3, 1)


def test_heads_are_signed_once_there_is_a_key_and_the_check_says_by_whom(
    cowlnote, record, key, tmp_path
):
    assert cowlnote("head").out.count("\n") == 1
    cowlnote("key", "make")
    kept = tmp_path / "head.txt"
    kept.write_text(cowlnote("head").out, "utf-8")
    assert cowlnote("export", tmp_path / "out").code == 0
    cowlnote("add", "oil_level", "7", "--by", "Ines Invented")
    for where in (kept, tmp_path / "out"):
        ran = cowlnote("check", "--against", where)
        assert (ran.code, f"by {keys.public(key)}" in ran.out) == (0, True)
    kept.write_text(kept.read_text().replace("head ", "head 1"))
    assert cowlnote("check", "--against", kept).code == 6
    assert cowlnote("import", tmp_path / "out", at=tmp_path / "second").code == 0
