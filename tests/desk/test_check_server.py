"""The check of a record on a server, beside that of a file."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from capture.vault import Vault
from desk import upkeep
from tests.record.conftest import any_store as any_store
from tests.record.conftest import postgres as postgres
from tests.record.test_journal import service


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("", ""),
        ("UPDATE media SET name = 'other.wav' WHERE id = 1", "media 1: is not what was sealed"),
        ("UPDATE segment SET text = 'x' WHERE id = 1", "segment 1: is not what was sealed"),
    ],
)
def test_rows_and_guards_are_proved_on_both_engines(any_store, tmp_path, change, said):
    service(any_store)
    if change:
        with any_store.engine.begin() as connection:
            connection.execute(text(change))
    found = upkeep.check(any_store, Vault(tmp_path / "vault"))
    gone = [p for p in found.problems if p.endswith("in the record and not in the vault")]
    rest = [p for p in found.problems if p not in gone]
    assert len(gone) == 2
    assert [p for p in rest if p == said] == [said] * bool(said)
    if not said:
        assert rest == []


def test_a_guard_that_was_taken_off_is_missed(any_store, tmp_path):
    service(any_store)
    on = " ON entry" if any_store.engine.dialect.name == "postgresql" else ""
    with any_store.engine.begin() as connection:
        connection.execute(text(f"DROP TRIGGER entry_no_update{on}"))
    found = upkeep.check(any_store, Vault(tmp_path / "vault"))
    assert any(p.startswith("guard entry_no_update: is missing") for p in found.problems)
