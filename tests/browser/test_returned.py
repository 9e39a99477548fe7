"""Returns and notices by keyboard, on paper, and under axe in the states that need an act first."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from sites.models import Request, Response, ResponseKind
from sites.outbox import send_due
from sites.services.requests import request_rework
from tests.sites.build import DAY, World
from tests.web.lived import answered, submitted


def axe_ids(page: Any) -> list[str]:
    """What axe finds, by rule."""
    return [each["id"] for each in Axe().run(page).response["violations"]]


def test_a_return_is_walked_from_the_queue_to_rework_by_keyboard(
    signed_in: Any, here: World
) -> None:
    page = signed_in()
    page.goto("/returned/")
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Return c-back-unread").wait_for()
    page.get_by_role("button", name="It is read").press("Enter")
    page.get_by_text("Done. It is read.").wait_for()
    page.get_by_role("button", name="The subject has been reached").press("Enter")
    page.get_by_text("Done. The subject has been reached.").wait_for()
    page.get_by_role("button", name="Ask for this session").press("Enter")
    page.get_by_text("Request back-unread-2 asks for the session").wait_for()
    assert Request.objects.get(reference="back-unread-2").advice != ""


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_axe_finds_nothing_where_something_was_done(
    signed_in: Any, here: World, scheme: str, width: int
) -> None:
    first = Response.objects.get(submission__control_number="c-back-told")
    second = submitted(here, "twice", 850)
    type(second).objects.filter(pk=second.pk).update(
        request=request_rework(response=first, reference="back-told-2", today=DAY)
    )
    answered(type(second).objects.get(pk=second.pk), ResponseKind.IMAGE, 1)
    answered(submitted(here, "data", 880), ResponseKind.DATA, 3)
    send_due()
    page = signed_in(scheme, width, "administrator")
    faults = []
    for address in ("/returned/", "/returned/set/c-twice/", "/notices/", "/notices/?state=all"):
        page.goto(address)
        faults += [f"{address}: {each}" for each in axe_ids(page)]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            faults.append(f"{address}: wider than {width} px")
    page.goto("/returned/set/c-data/")
    page.get_by_role("button", name="It is read").click()
    page.get_by_label("Control number of the new submission").wait_for()
    faults += axe_ids(page)
    page.goto("/returned/register/")
    page.get_by_label("or its lines").fill(
        "control number,kind,date\nc-sent,image,2026-03-01\nx,y,z"
    )
    page.get_by_role("button", name="What would it do?").click()
    page.get_by_role("heading", name="1 to register, 0 there already, 3 at fault").wait_for()
    faults += axe_ids(page)
    page.goto("/set-up/texts/p-one/booked/")
    page.get_by_label("Text", exact=True).fill("Dear {nobody}")
    page.get_by_role("button", name="Show it filled in").click()
    page.get_by_text("is not known here").wait_for()
    faults += axe_ids(page)
    page.get_by_label("Text", exact=True).fill("Dear {name}")
    page.get_by_role("button", name="Show it filled in").click()
    page.get_by_text("Dear Ilmi Tavoren").wait_for()
    faults += axe_ids(page)
    assert faults == []


def test_a_letter_prints_alone(signed_in: Any, here: World) -> None:
    page = signed_in()
    page.goto("/notices/booked/1/")
    assert page.get_by_role("link", name="Calendar file").is_visible()
    page.emulate_media(media="print")
    assert page.get_by_role("heading", name="Your appointment: Programme one").is_visible()
    assert page.get_by_text("Monday 2 March 2026, 11:30").is_visible()
    for gone in ("header.frame", "h1", ".facts", ".acts", "footer p", ".crumb"):
        assert not page.locator(gone).first.is_visible(), gone
