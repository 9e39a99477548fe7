"""By keyboard alone: a time is booked, moved and cancelled; and the states that pages can be in."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from sites.models import Appointment, Proposal, Request, Step
from sites.services.waiting import waiting_join
from tests.sites.build import DAY
from tests.web.lived import NOW

NEXT = DAY + timedelta(days=1)


def focus(page: Any) -> str:
    """The words of what has the focus."""
    return str(page.evaluate("document.activeElement.textContent.trim()"))


def tab_to(page: Any, words: str) -> None:
    """Press Tab until something with these words has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if words in focus(page):
            return
    raise AssertionError(f"Tab never reaches {words!r}")


def test_a_time_is_booked_moved_and_cancelled(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/requests/free/")
    page.get_by_role("heading", name="The first times that would do").wait_for()
    tab_to(page, "Find a time")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Times for free").wait_for()
    page.keyboard.press("2")
    page.get_by_text("free is booked").wait_for()
    one = Appointment.objects.get(request__reference="free")
    tab_to(page, "Move")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Times for free").wait_for()
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("k")
    assert focus(page).startswith("Move here")
    page.keyboard.press("Enter")
    page.get_by_text("free is moved").wait_for()
    moved = Appointment.objects.get(request__reference="free")
    assert (moved.pk, moved.step) == (one.pk, Step.BOOKED)
    assert (moved.day, moved.told_minute) != (one.day, one.told_minute)
    tab_to(page, "Cancel")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Cancel the appointment").wait_for()
    page.get_by_label("Why").focus()
    page.keyboard.press("ArrowDown")
    tab_to(page, "Cancel it")
    page.keyboard.press("Enter")
    page.get_by_text("Cancelled:").wait_for()
    assert Appointment.objects.get(request__reference="free").step == Step.CANCELLED


def test_the_times_are_narrowed_in_place_and_the_address_holds_it(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/requests/free/offers/")
    page.get_by_label("Part of day").select_option("pm")
    page.wait_for_url("**part=pm**")
    page.get_by_text("12:00").first.wait_for()
    assert page.get_by_text("08:00").count() == 0
    page.reload()
    assert page.get_by_label("Part of day").input_value() == "pm"


def test_a_number_typed_into_a_field_takes_nothing(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/requests/free/offers/")
    page.get_by_label("From day").focus()
    page.keyboard.type("1")
    page.keyboard.press("Escape")
    assert not Appointment.objects.filter(request__reference="free").exists()


def test_the_keys_are_listed(signed_in: Any) -> None:
    page = signed_in()
    page.goto("/requests/free/offers/")
    page.keyboard.press("?")
    assert "take the time with this number" in page.get_by_role("dialog").inner_text()


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_axe_finds_nothing_in_any_state(signed_in: Any, here: Any, scheme: str, width: int) -> None:
    """A time that went, nothing free, a proposal on the list, a late day, a step refused."""
    page = signed_in(scheme, width)
    faults: list[str] = []

    def look(what: str) -> None:
        found = Axe().run(page).response["violations"]
        faults.extend(f"{what}: {each['id']}: {each['nodes'][0]['html']}" for each in found)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            faults.append(f"{what}: wider than {width} px")

    page.goto("/requests/free/offers/?first=2026-03-03&last=2026-03-03&part=am")
    first = page.locator("[data-key='1']")
    for station, technician in zip(here.stations, here.technicians, strict=True):
        here.book(
            here.request(f"b-{station.code}"),
            480,
            day=NEXT,
            minutes=600,
            station=station,
            technician=technician,
        )
    first.click()
    page.get_by_text("Nothing was changed").wait_for()
    look("a time that went")
    page.get_by_role("heading", name="No free time fits").wait_for()
    page.goto("/requests/free/later/")
    page.get_by_label("a cast to come off").check()
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("That is after the due date").wait_for()
    look("a late day")
    waiting_join(request=Request.objects.get(reference="late"), by=here.desk, hours_ahead=1, at=NOW)
    page.goto("/waiting/")
    page.get_by_role("button", name="Look for free times now").click()
    page.get_by_text("It is put to late").wait_for()
    look("a proposal")
    assert Proposal.objects.count() == 1
    page.goto("/requests/arrived/offers/")
    page.get_by_text("No times are looked for").wait_for()
    look("arrived")
    assert faults == []
