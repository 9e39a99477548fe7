"""The auditor's page in Chromium: axe finds nothing, nothing is wider than the screen."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

SHOTS = os.environ.get("PLATEN_SHOTS", "")
ADDRESSES = (
    "/audit/",
    "/audit/?noun=appointment&done=changed",
    "/audit/?record=x",
    "/audit/?after=x",
)


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_axe_finds_nothing_in_the_audit(signed_in: Any, scheme: str, width: int) -> None:
    page = signed_in(scheme, width, "auditor")
    faults: list[str] = []
    for number, address in enumerate(ADDRESSES):
        page.goto(address)
        page.get_by_role("heading", name="Audit").wait_for()
        if SHOTS:
            name = f"audit-{number}-{scheme}-{width}.png"
            page.screenshot(path=str(Path(SHOTS) / name), full_page=False)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            faults.append(f"{address}: wider than {width} px")
        found = Axe().run(page).response["violations"]
        faults += [f"{address}: {each['id']}: {each['nodes'][0]['html']}" for each in found]
    assert faults == []


def test_a_filter_answers_in_place_and_fills_the_address(signed_in: Any) -> None:
    page = signed_in("light", 1280, "auditor")
    page.goto("/audit/")
    page.get_by_label("Done").select_option("removed")
    page.wait_for_url("**/audit/?**done=removed**")
    assert page.get_by_role("heading", name="Audit").is_visible()
