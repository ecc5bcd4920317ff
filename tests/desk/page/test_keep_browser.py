"""The page Keep in a real browser: an export that damage refuses, and the rest of it."""

from __future__ import annotations

from record import media
from tests.desk.page.conftest import IN_A_BROWSER, come_in

pytestmark = IN_A_BROWSER


def test_what_is_damaged_is_named_before_the_rest_is_exported(filled, serve, page, tmp_path):
    desk, out = filled.desk, tmp_path / "out"
    with desk.store.session() as session:
        path = desk.vault.path(media.get(session, 1).sha256)
    path.chmod(0o644)
    path.write_bytes(bytes(path.stat().st_size))
    come_in(page, serve(desk), "/keep")
    its = page.locator("[data-task=export]")
    rest = its.get_by_role("button", name="Export the rest without them")
    assert not rest.is_visible()
    its.locator("input[name=folder]").fill(str(out))
    its.get_by_role("button", name="Export", exact=True).click()
    rest.wait_for()
    assert its.locator("[data-damaged] li").all_inner_texts() == ["memo_00.wav"]
    assert not out.exists()
    rest.click()
    its.get_by_text("memo_00.wav: not what was kept, so not in the export").wait_for()
    assert not rest.is_visible()
    assert (out / "bagit.txt").is_file()


def test_check_and_backup_begin_by_their_buttons_and_say_how_they_ended(
    filled, serve, page, tmp_path
):
    come_in(page, serve(filled.desk), "/keep")
    page.get_by_role("button", name="Check now").click()
    page.locator("[data-task=check] li", has_text="0 problems").wait_for()
    page.get_by_role("button", name="Look and take back").click()
    page.locator("[data-task=recover] [role=status]", has_text="done").wait_for()
