"""One candidate in Chromium: intake, run, review, accept, move by key, return, rework."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from pytest_django import Settings

from planner.gateway.runs import execute
from sites.models import Appointment, Notice, PlanRun, Request, SessionEnd, Step
from sites.services.appointments import appointment_step
from sites.services.sessions import session_end, session_identity_check, session_start
from sites.services.submissions import submission_send
from tests.sites.build import DAY, World

LIST = """Reference;Surname;Mobile;E-mail;Due date;Sites
W-1;Wayone;+00 555 0171;wayone@subject.invalid;2026-03-20;site-1
W-2;Waytwo;+00 555 0172;;2026-03-20;site-1
W-3;Waythree;+00 555 0173;;someday;site-1
"""


def captured(here: World, one: Appointment) -> datetime:
    """The visit as the site works it, until the set is sent on; when that was (an instant)."""
    at = one.starts_at
    appointment_step(appointment=one, action="arrive", by=here.desk, at=at)
    session = session_start(appointment=one, by=here.taker, at=at)
    session_identity_check(session=session, by=here.taker, at=at)
    at += timedelta(minutes=18)
    session = session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker, at=at)
    submission_send(session=session, control_number="c-way-1", at=at)
    return at


def test_a_candidate_goes_from_a_list_to_rework(
    signed_in: Any, here: World, settings: Settings, tmp_path: Path
) -> None:
    page = signed_in()
    take_in(page, tmp_path)
    plan_and_accept(page)
    one = move(page)
    settings.NOW = captured(here, one) + timedelta(days=3)
    come_back(page, settings.NOW)
    rework = Request.objects.get(reference="W-1-2")
    assert (rework.rework, rework.terms_id, rework.subject_id) == (
        True,
        one.request.terms_id,
        one.request.subject_id,
    )
    page.get_by_role("link", name="W-1-2").first.click()
    page.get_by_role("heading", name="The first times that would do").wait_for()
    page.keyboard.press("1")
    page.get_by_text("W-1-2 is booked").wait_for()
    again = Appointment.objects.get(request=rework, step=Step.BOOKED)
    assert again.starts_at > settings.NOW
    told = Notice.objects.filter(request__reference="W-1").values_list("kind", flat=True)
    assert {"booked", "moved", "returned"} <= set(told)


def take_in(page: Any, folder: Path) -> None:
    """A list with a bad row: the good ones are taken in, the bad one is named."""
    file = folder / "candidates.csv"
    file.write_text(LIST)
    page.goto("/intake/")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_role("button", name="Read the file").press("Enter")
    page.get_by_label("Programme of rows that name none").select_option("p-one")
    page.get_by_label("Kind of session of rows that name none").select_option("full")
    page.get_by_role("button", name="Read all 3 rows").press("Enter")
    page.get_by_role("cell", name="someday").wait_for()
    page.get_by_role("button", name="Take in 2 rows").press("Enter")
    page.get_by_role("heading", name="2 of 3 rows are taken in").wait_for()
    page.get_by_role("link", name="Show requests to book").press("Enter")
    page.get_by_role("link", name="W-1").wait_for()
    assert page.get_by_role("link", name="W-3").count() == 0


def plan_and_accept(page: Any) -> None:
    """A run over the two is asked for, worked on, looked at and accepted whole."""
    page.goto("/runs/new/?request=W-1&request=W-2")
    page.get_by_role("button", name="Ask for the run").press("Enter")
    page.get_by_text("Nothing is booked until you say so").wait_for()
    run = PlanRun.objects.order_by("-pk")[0]
    PlanRun.objects.filter(pk=run.pk).update(seconds=None, effort=1)
    execute(run.pk, worker="beside")
    page.get_by_role("heading", name="2 of 2 changes ticked").wait_for()
    page.get_by_role("link", name="Accept all").press("Enter")
    page.get_by_role("heading", name=f"Accept run {run.pk}?").wait_for()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What came of it").wait_for()
    assert Appointment.objects.filter(plan_run=run.pk, step=Step.BOOKED).count() == 2


def move(page: Any) -> Appointment:
    """The first one asks for another day: moved by one key."""
    before = Appointment.objects.get(request__reference="W-1")
    day = DAY + timedelta(days=3 if before.day != DAY + timedelta(days=3) else 4)
    page.goto(f"/requests/W-1/offers/?first={day}&last={day}")
    page.get_by_role("heading", name="Times for W-1").wait_for()
    page.keyboard.press("3")
    page.get_by_text("W-1 is moved").wait_for()
    one = Appointment.objects.get(request__reference="W-1")
    assert (one.pk, one.day) == (before.pk, day)
    return one


def come_back(page: Any, at: datetime) -> None:
    """The set comes back for its images; rework is asked for."""
    page.goto("/returned/register/")
    page.get_by_label("Control number").fill("c-way-1")
    page.get_by_label("Kind").select_option("image")
    page.get_by_label("Came on").fill(at.date().isoformat())
    page.get_by_role("button", name="Register it").press("Enter")
    page.get_by_text("The response to c-way-1 is registered").wait_for()
    page.goto("/returned/set/c-way-1/")
    page.get_by_role("button", name="It is read").press("Enter")
    page.get_by_role("button", name="The subject has been reached").press("Enter")
    page.get_by_role("button", name="Ask for this session").press("Enter")
    page.get_by_text("Request W-1-2 asks for the session").wait_for()
