"""A planning run by keyboard: followed to its end, unticked, looked at once more, accepted."""

from __future__ import annotations

from typing import Any

from sites.models import Appointment, PlanRun, RunState
from sites.services.runs import run_cancel, run_end_early
from tests.sites.build import World
from tests.web.planned import PLANNING, READY


def test_a_run_is_unticked_and_accepted_by_keys(signed_in: Any) -> None:
    page = signed_in()
    page.goto(f"/runs/{READY}/")
    page.get_by_text("the record would take the whole plan as it stands").wait_for()
    page.get_by_role("checkbox", name="Accept late").focus()
    page.keyboard.press("Space")
    page.get_by_role("heading", name="2 of 3 changes ticked").wait_for()
    page.get_by_role("link", name="Accept the 2 ticked").press("Enter")
    page.get_by_role("heading", name=f"Accept run {READY}?").wait_for()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What came of it").wait_for()
    booked = Appointment.objects.filter(plan_run=READY)
    assert set(booked.values_list("request__reference", flat=True)) == {"free", "gone"}


def test_a_run_that_ends_is_seen_without_a_reload(signed_in: Any, here: World) -> None:
    page = signed_in()
    page.goto(f"/runs/{PLANNING}/")
    page.locator("#end").focus()
    page.wait_for_timeout(2500)  # the page has looked again, and the focus is where it was
    assert page.evaluate("document.activeElement.id") == "end"
    run = run_cancel(run=PLANNING, by=here.desk)
    run_end_early(run=PLANNING, attempt=run.attempt)
    page.get_by_text("it was ended before there was a plan").wait_for()
    assert PlanRun.objects.get(pk=PLANNING).state == RunState.STOPPED
    assert page.locator("#end").count() == 0
