"""Is what was kept still what was kept? Reads only; repairs nothing. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass

from capture.vault import Vault
from record import chain, lab
from record import media as rows
from record.store import Store


@dataclass(frozen=True, slots=True)
class Findings:
    """What a check looked at, and what it found wrong, a line each."""

    files: int
    links: int
    problems: tuple[str, ...]


def check(store: Store, vault: Vault) -> Findings:
    """Hash every kept file, ask the database, walk the chain, compare vault and record."""
    problems = [*vault.verify(), *store.problems()]
    kept = sum(1 for _ in vault.kept())
    with store.session(write=False) as session:
        broken = chain.prove(session)
        loose = lab.prove(session)
        links, _ = chain.head(session)
        media = rows.media(session)
    if broken:
        problems.append(f"the record's chain breaks at {broken}")
    if loose:
        problems.append(f"the chain of oil reports breaks at {loose}")
    problems += [
        f"{one.name}: in the record and not in the vault ({one.sha256})"
        for one in media
        if not vault.path(one.sha256).is_file()
    ]
    return Findings(kept, links, tuple(problems))
