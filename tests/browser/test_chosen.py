"""Many requests at once, by keyboard: tick, ask, do; axe finds nothing on the way."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from sites.models import Hold
from tests.browser.test_pages import axe_ids

SHOTS = os.environ.get("PLATEN_SHOTS", "")


def shoot(page: Any, name: str) -> None:
    """Leave a picture, where a folder is named."""
    if SHOTS:
        page.screenshot(path=str(Path(SHOTS) / f"{name}.png"), full_page=True)


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_requests_are_ticked_and_held_by_keyboard(signed_in: Any, scheme: str, width: int) -> None:
    page = signed_in(scheme, width)
    page.keyboard.press("j")
    page.keyboard.press("x")
    page.keyboard.press("j")
    page.keyboard.press("x")
    assert page.locator("[data-tick]:checked").count() == 2
    shoot(page, f"list-{scheme}-{width}")
    assert axe_ids(page) == []
    page.get_by_role("button", name="Put on hold").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Put requests on hold").wait_for()
    assert axe_ids(page) == []
    shoot(page, f"hold-{scheme}-{width}")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.get_by_label("Why").select_option("papers are missing")
    page.get_by_label("In other words").press("Enter")
    page.get_by_role("link", name="Back to the list").wait_for()
    assert axe_ids(page) == []
    shoot(page, f"held-{scheme}-{width}")
    assert Hold.objects.count() > 0


def test_all_rows_of_the_page_are_ticked_at_once_and_sites_are_looked_at_first(
    signed_in: Any,
) -> None:
    page = signed_in()
    page.get_by_label("all rows of this page").check()
    ticks = page.locator("[data-tick]")
    assert page.locator("[data-tick]:checked").count() == ticks.count() > 5
    page.get_by_role("button", name="Change sites").click()
    page.get_by_label("Site 1").check()
    page.get_by_role("button", name="What would it do?").click()
    page.get_by_text("goes to these sites already").first.wait_for()
    assert axe_ids(page) == []
    shoot(page, "sites-light-1280")
