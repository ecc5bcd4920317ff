"""What comes from a phone: kept, and told to the read-back, which hears it while it comes."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from capture.observed import Kept
from capture.vault import kind_of
from desk.observe import began_at
from desk.readback.journal import Sent
from desk.readback.live import Arriving

if TYPE_CHECKING:
    from desk.web.context import Desk
    from desk.web.inbox import Coming


def grew(desk: Desk, coming: Coming) -> None:
    """Let a memo that is being spoken be heard as far as it has come."""
    path = desk.inbox.part(coming)
    if not coming.have or kind_of(path) != "memo":
        return
    kept = Kept("", coming.name, coming.have, "memo", coming.modified or datetime.now(UTC))
    began = began_at(path, kept, desk.settings.zone)
    desk.live.arrived(Arriving(coming.sender, coming.key, coming.name, path, began))


def keep(desk: Desk, number: str, size: int | None = None) -> dict[str, Any]:
    """Keep a file that is here whole, and let it be read back to the phone that sent it.

    Gives `sha256`, `name` and `key`. Raises as `Inbox.finish` does.
    """
    from record import media

    coming = desk.inbox.coming(number)
    kept = desk.inbox.finish(number, size)
    path = desk.vault.path(kept.sha256)
    began = began_at(path, kept, desk.settings.zone)
    with desk.store.session() as session:
        row = media.note(session, kept, began)
    if coming.sender:
        sent = Sent(coming.key, kept.name, kept.sha256, kept.size)
        new = kept.sha256 not in desk.live.talk(coming.sender).journal.sent
        desk.live.kept(coming.sender, sent)
        if new:  # one whose answer was lost is not said twice
            key = coming.key or number
            desk.live.arrived(
                Arriving(coming.sender, key, row.name, path, row.began, row.kind, whole=True)
            )
    return {"sha256": kept.sha256, "name": kept.name, "key": coming.key}


def keep_left_off(desk: Desk) -> int:
    """Keep what came of memos that nobody went on with for half a day; give how many there were."""
    left = desk.inbox.left_off()
    for coming in left:
        keep(desk, coming.id, coming.have)
    if left:
        desk.runner.wake()
    return len(left)
