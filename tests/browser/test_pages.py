"""Every page in Chromium: axe finds nothing, nothing is wider than the screen, no console error."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.pages import PAGES, ROLES

SHOTS = os.environ.get("PLATEN_SHOTS", "")
"""A folder to leave pictures of every page in, for looking at them."""
WIDTHS = (1280, 390)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(signed_in: Any, scheme: str) -> None:
    """At the width of a desk and of a phone; a page that is loaded is made narrower."""
    faults: list[str] = []
    errors: list[str] = []
    for role in sorted({"coordinator", *ROLES.values()}):
        page = signed_in(scheme, WIDTHS[0], role)
        page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: errors.append(str(error)))
        for address in [each for each in PAGES if ROLES.get(each, "coordinator") == role]:
            page.goto(address)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 900})
                faults += [f"{address}, {width} px: {each}" for each in seen(page, width)]
                if SHOTS:
                    name = f"{address.strip('/').replace('/', '-')}-{scheme}-{width}.png"
                    page.screenshot(path=str(Path(SHOTS) / name), full_page=True)
    assert faults == []
    assert errors == []


def seen(page: Any, width: int) -> list[str]:
    """What is wrong with a page as it is shown."""
    faults = []
    if page.evaluate("document.documentElement.scrollWidth") > width:
        faults.append("wider than the screen")
    found = Axe().run(page).response["violations"]
    return faults + [f"{each['id']}: {each['nodes'][0]['html']}" for each in found]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_before_sign_in_and_in_an_answer(
    signed_in: Any, here: Any, scheme: str
) -> None:
    page = signed_in(scheme)
    page.goto("/care/site-1/downtime/")
    page.get_by_label("Day").fill("2026-03-02")
    page.get_by_label("From").fill("11:20")
    page.get_by_label("Minutes").fill("60")
    page.get_by_label("Reason").fill("lines in the picture")
    page.get_by_role("button", name="Whom would it move?").click()
    page.get_by_text("1 would lose their place").wait_for()
    assert axe_ids(page) == []
    page.goto("/nowhere/")
    assert axe_ids(page) == []
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Password").wait_for()
    assert axe_ids(page) == []


def axe_ids(page: Any) -> list[str]:
    """What axe finds, by rule."""
    return [each["id"] for each in Axe().run(page).response["violations"]]
