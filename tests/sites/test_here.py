"""Every service that acts for somebody refuses what is at no site of theirs, whatever the door."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction

import sites.services
from sites.access import NotHere, require_here
from sites.models import (
    Appointment,
    CareKind,
    CareOutcome,
    CareWindow,
    ExceptionRoute,
    FingerPosition,
    HomeArea,
    Notice,
    OverrideKind,
    PlanRun,
    ProposalAnswer,
    Request,
    Response,
    Role,
    RunState,
    SessionEnd,
    Site,
    User,
    WaitingEnd,
)
from sites.services.appointments import appointment_book, appointment_move, appointment_step
from sites.services.care import care_close, care_fix
from sites.services.exceptions import exception_ask
from sites.services.holds import requests_hold, requests_release
from sites.services.notices import notice_told
from sites.services.plans import plan_keep
from sites.services.rebook import request_not_before
from sites.services.returns import response_reached, responses_mark_read
from sites.services.runs import run_accept, run_ask, run_cancel
from sites.services.sessions import (
    override_record,
    session_end,
    session_identity_check,
    session_start,
)
from sites.services.submissions import response_contacted, response_read
from sites.services.times import absence_add, downtime_add
from sites.services.waiting import Seat, proposal_answer, proposal_make, waiting_end, waiting_join
from tests.sites.build import DAY, SCOPED, World
from tests.web.lived import NOW, lived

NEXT = DAY + timedelta(days=1)
PLACE: dict[str, Any] = {"day": NEXT, "minute": 600, "minutes": 20}
WITHOUT = {
    "intake_give": "a list belongs to who gave it; its rows name only sites that they see",
}
"""Services that act for somebody and touch nothing at a site."""


@dataclass
class Scene:
    """A site at work, and rows of it that a service can be given."""

    here: World

    def request(self, name: str) -> Request:
        return Request.objects.get(reference=name)

    def appointment(self, name: str) -> Appointment:
        return Appointment.objects.get(request__reference=name, step__in=("booked", "arrived"))

    def response(self, name: str) -> Response:
        return Response.objects.get(submission__request__reference=name)

    def place(self) -> dict[str, Any]:
        return {**PLACE, "station": self.here.stations[0], "technician": self.here.technicians[1]}

    def session(self) -> Any:
        """The session of who has arrived, under way."""
        return session_start(appointment=self.appointment("arrived"), by=self.here.taker, at=NOW)

    def wait(self) -> Any:
        return waiting_join(request=self.request("free"), by=None, hours_ahead=1, at=NOW)

    def proposal(self) -> Any:
        place = self.place() | {"told_minute": 600, "p_wait": 0.1}
        return proposal_make(waiting=self.wait(), seat=Seat(**place), slack=1, at=NOW)

    def route(self) -> ExceptionRoute:
        return ExceptionRoute.objects.create(
            request=self.request("back-again"),
            first_number="a",
            second_number="b",
            opened_at=NOW,
            closes_on=NEXT,
        )

    def run(self, state: RunState) -> int:
        return PlanRun.objects.filter(state=state).values_list("pk", flat=True)[0]


def keep(scene: Scene, by: User) -> Any:
    """A plan that drops one appointment."""
    run = PlanRun(first_day=DAY, days=7)
    drops = [scene.appointment("booked")]
    return plan_keep(run=run, seats=[], drops=drops, care=[], breaks=[], why="", by=by, at=NOW)


def override(scene: Scene, by: User) -> Any:
    """An override that a colleague confirms."""
    return override_record(
        session=scene.session(),
        position=FingerPosition.RIGHT_THUMB,
        kind=OverrideKind.QUALITY,
        reason="x",
        by=by,
        second=scene.here.users[Role.MANAGER],
    )


Call = Callable[[Scene, User], Any]
CALLS: dict[str, tuple[Role, Call]] = {
    "appointment_book": (
        Role.COORDINATOR,
        lambda s, by: appointment_book(request=s.request("free"), by=by, **s.place()),
    ),
    "appointment_move": (
        Role.SITE_LEAD,
        lambda s, by: appointment_move(
            appointment=s.appointment("booked"), why="x", by=by, **s.place()
        ),
    ),
    "appointment_step": (
        Role.TECHNICIAN,
        lambda s, by: appointment_step(
            appointment=s.appointment("booked"), action="arrive", by=by, at=NOW
        ),
    ),
    "session_start": (
        Role.TECHNICIAN,
        lambda s, by: session_start(appointment=s.appointment("arrived"), by=by, at=NOW),
    ),
    "session_identity_check": (
        Role.TECHNICIAN,
        lambda s, by: session_identity_check(session=s.session(), by=by, at=NOW),
    ),
    "session_end": (
        Role.TECHNICIAN,
        lambda s, by: session_end(session=s.session(), how=SessionEnd.BROKEN_OFF, by=by, at=NOW),
    ),
    "override_record": (Role.TECHNICIAN, override),
    "response_read": (
        Role.COORDINATOR,
        lambda s, by: response_read(response=s.response("back-unread"), by=by, at=NOW),
    ),
    "responses_mark_read": (
        Role.COORDINATOR,
        lambda s, by: responses_mark_read(responses=[s.response("back-unread")], by=by, at=NOW),
    ),
    "response_reached": (
        Role.COORDINATOR,
        lambda s, by: response_reached(response=s.response("back-unread"), by=by, at=NOW),
    ),
    "response_contacted": (
        Role.COORDINATOR,
        lambda s, by: response_contacted(
            response=response_read(response=s.response("back-unread"), by=s.here.desk, at=NOW),
            by=by,
            at=NOW,
        ),
    ),
    "exception_ask": (
        Role.COORDINATOR,
        lambda s, by: exception_ask(route=s.route(), by=by, today=DAY, at=NOW),
    ),
    "request_not_before": (
        Role.COORDINATOR,
        lambda s, by: request_not_before(
            request=s.request("free"), day=NEXT, today=DAY, by=by, at=NOW
        ),
    ),
    "requests_hold": (
        Role.COORDINATOR,
        lambda s, by: requests_hold(requests=[s.request("free")], why="x", by=by, at=NOW),
    ),
    "requests_release": (
        Role.COORDINATOR,
        lambda s, by: requests_release(requests=[s.request("free")], by=by, at=NOW),
    ),
    "notice_told": (
        Role.COORDINATOR,
        lambda s, by: notice_told(
            notice=Notice.objects.filter(request__reference="booked", state="waiting")[0],
            by=by,
            at=NOW,
        ),
    ),
    "care_fix": (
        Role.SITE_LEAD,
        lambda s, by: care_fix(
            station=s.here.stations[0], kind=CareKind.CLEANING, code="c-x", by=by, **PLACE
        ),
    ),
    "care_close": (
        Role.TECHNICIAN,
        lambda s, by: care_close(
            window=CareWindow.objects.get(code="clean-1"), outcome=CareOutcome.DONE, by=by, at=NOW
        ),
    ),
    "downtime_add": (
        Role.COORDINATOR,
        lambda s, by: downtime_add(station=s.here.stations[0], reason="x", by=by, **PLACE),
    ),
    "absence_add": (
        Role.SITE_LEAD,
        lambda s, by: absence_add(technician=s.here.technicians[0], by=by, **PLACE),
    ),
    "waiting_join": (
        Role.COORDINATOR,
        lambda s, by: waiting_join(request=s.request("free"), by=by, hours_ahead=1, at=NOW),
    ),
    "waiting_end": (
        Role.COORDINATOR,
        lambda s, by: waiting_end(waiting=s.wait(), how=WaitingEnd.STOPPED, by=by, at=NOW),
    ),
    "proposal_answer": (
        Role.COORDINATOR,
        lambda s, by: proposal_answer(
            proposal=s.proposal(), answer=ProposalAnswer.DECLINED, by=by, at=NOW
        ),
    ),
    "run_ask": (
        Role.COORDINATOR,
        lambda s, by: run_ask(first_day=DAY, days=2, sites=[s.here.site], by=by),
    ),
    "run_cancel": (
        Role.COORDINATOR,
        lambda s, by: run_cancel(run=s.run(RunState.WAITING), by=by),
    ),
    "run_accept": (
        Role.COORDINATOR,
        lambda s, by: run_accept(run=s.run(RunState.READY), by=by, at=NOW),
    ),
    "plan_keep": (Role.COORDINATOR, keep),
}


def acting() -> dict[str, Any]:
    """Public services that take somebody who acts, by name: a parameter that is a User."""
    found = {}
    for module in pkgutil.iter_modules(sites.services.__path__):
        code = importlib.import_module(f"sites.services.{module.name}")
        for name, service in inspect.getmembers(code, inspect.isfunction):
            if service.__module__ != code.__name__ or name.startswith("_"):
                continue
            parameters = inspect.signature(service).parameters.values()
            whole = hasattr(service, "__wrapped__")  # run in one transaction: see `written`
            if whole and any(each.name == "by" for each in parameters):
                found[name] = service
    return found


def test_every_service_that_acts_for_somebody_is_asked() -> None:
    assert set(acting()) == CALLS.keys() | WITHOUT.keys()


def refused(call: Call, scene: Scene, by: User) -> bool:
    """Whether a service refuses a person for the place; whatever it did is undone."""
    with transaction.atomic():
        try:
            call(scene, by)
        except NotHere:
            return True
        finally:
            transaction.set_rollback(True)
    return False


@pytest.mark.django_db
def test_each_is_done_for_a_colleague_and_refused_to_a_stranger_of_the_same_role() -> None:
    here = lived()
    there = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    strangers = {role: User.objects.create(username=f"{role}-2", role=role) for role in SCOPED}
    for user in strangers.values():
        user.covers.add(there)
    scene = Scene(here)
    assert {
        n for n, (role, call) in CALLS.items() if refused(call, scene, here.users[role])
    } == set()
    assert {n for n, (role, call) in CALLS.items() if refused(call, scene, strangers[role])} == {
        *CALLS
    }
    with pytest.raises(NotHere):
        run_ask(first_day=DAY, days=2, by=here.desk)  # all sites, and one is not theirs


@pytest.mark.django_db
def test_one_row_from_elsewhere_refuses_them_all(here: World) -> None:
    """And nobody is asked where the program itself acts, or who sees everywhere."""
    mine, other = here.request("mine"), here.request("other", sites=[])
    require_here(here.desk, mine)
    with pytest.raises(NotHere, match="The request other is not at your sites"):
        require_here(here.desk, mine, here.site, other)
    require_here(None, other)
    require_here(here.users[Role.MANAGER], other)
    gone = User.objects.create(username="gone", role=Role.MANAGER, is_active=False)
    with pytest.raises(NotHere):
        require_here(gone, mine)
    with pytest.raises(KeyError):
        require_here(here.desk, HomeArea())
    run = PlanRun(pk=5, first_day=DAY)
    assert f"{NotHere(run)}".startswith("Run 5 from 2026-03-02 is not at your sites")
