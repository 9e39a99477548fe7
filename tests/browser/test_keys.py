"""By keyboard alone: the list of keys, the list of requests, the board, and a form to its end."""

from __future__ import annotations

import re
from typing import Any

from sites.models import Downtime


def focus(page: Any) -> str:
    """The words of what has the focus."""
    return str(page.evaluate("document.activeElement.textContent.trim()"))


def test_the_question_mark_lists_the_pages_keys(signed_in: Any) -> None:
    page = signed_in()
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog")
    assert dialog.is_visible()
    assert "to the search field" in dialog.inner_text()
    page.keyboard.press("Escape")
    assert not dialog.is_visible()


def test_single_keys_can_be_switched_off(signed_in: Any) -> None:
    """WCAG 2.2, 2.1.4: a shortcut of one character can be turned off."""
    page = signed_in()
    page.keyboard.press("?")
    page.get_by_role("dialog").get_by_role("checkbox").uncheck()
    page.keyboard.press("Escape")
    page.keyboard.press("j")
    page.keyboard.press("?")
    assert not page.get_by_role("dialog").is_visible()
    assert focus(page) != "late"


def test_requests_are_walked_and_opened(signed_in: Any) -> None:
    page = signed_in()
    page.keyboard.press("j")
    assert focus(page) == "late"
    page.keyboard.press("j")
    page.keyboard.press("k")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Request late").wait_for()


def test_the_search_answers_in_place_and_fills_the_address(signed_in: Any) -> None:
    page = signed_in()
    everybody = page.get_by_role("heading", name=re.compile(r"^1 to \d+ of \d+$")).inner_text()
    assert everybody != "1 to 1 of 1"
    page.keyboard.press("/")
    page.keyboard.type("back-un")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="1 to 1 of 1").wait_for()
    page.wait_for_url("**/requests/?q=back-un**")
    page.go_back()
    page.get_by_role("heading", name=everybody).wait_for()


def test_the_board_is_walked_by_arrows(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/days/site-1/2026-03-02/")
    page.locator("[data-bar]").first.focus()
    assert "told 10:30" in page.evaluate("document.activeElement.getAttribute('aria-label')")
    page.keyboard.press("ArrowRight")
    assert "told 11:00" in page.evaluate("document.activeElement.getAttribute('aria-label')")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "line-2"
    page.keyboard.press("n")
    page.get_by_role("heading", name="Site 1, Tue 3 Mar 2026").wait_for()


def test_bars_lie_under_their_hours(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/days/site-1/2026-03-02/")
    widths = page.evaluate(
        "[...document.querySelectorAll('.row > svg')].map(e => e.getBoundingClientRect().width)"
    )
    assert len(widths) == 6
    assert max(widths) - min(widths) < 1
    left = "document.querySelector('{}').getBoundingClientRect().x"
    bar = page.evaluate(left.format("[data-bar] .fill"))
    words = page.evaluate(left.format(".hours text:nth-of-type(3)"))
    hour = widths[0] * 60 / 600
    # 10:00 is written around its line, the first session starts at 10:30
    assert abs(bar - (words + 17) - hour / 2) < 6


def test_the_first_stop_skips_to_the_page(signed_in: Any) -> None:
    page = signed_in()
    page.keyboard.press("Tab")
    assert focus(page) == "To the page"


def test_a_station_is_taken_out_of_use(signed_in: Any) -> None:
    page = signed_in(role="site_lead")
    page.goto("/care/site-1/downtime/?day=2026-03-02")
    page.get_by_label("From").fill("11:20")
    page.get_by_label("Minutes").fill("60")
    page.get_by_label("Reason").fill("lines in the picture")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Save, and let 1 lose their place").wait_for()
    assert "1 would lose their place" in focus(page)
    page.get_by_role("button", name="Save, and let 1 lose their place").press("Enter")
    page.get_by_text("1 person lost their place").wait_for()
    assert Downtime.objects.filter(reason="lines in the picture").count() == 1


def test_the_day_prints_without_the_frame(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/days/site-1/2026-03-02/")
    page.emulate_media(media="print")
    for gone in ("nav[aria-label=Places]", ".near", ".out", "button.keys"):
        assert not page.locator(gone).first.is_visible()
    assert page.get_by_role("heading", name="Sessions in the order of told time").is_visible()
    assert page.get_by_text("Never print over fresh cuts").is_visible()
