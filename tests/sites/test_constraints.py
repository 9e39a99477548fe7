"""Each constraint of the database, by trying to break it; all of them are tried."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from sites.models import (
    ApiCall,
    ApiToken,
    Appointment,
    AppointmentEvent,
    Attempt,
    CareRule,
    CareWindow,
    Certification,
    Closure,
    Downtime,
    ExceptionRoute,
    HomeArea,
    MissingFinger,
    Notice,
    NoticeText,
    OpeningHours,
    Override,
    PlanResult,
    PlanRun,
    Profile,
    ProfileCapture,
    ProgrammeVersion,
    Purge,
    Request,
    RequestSite,
    RequestTime,
    Reserve,
    Response,
    RunPart,
    Scanner,
    ScannerPlacement,
    Session,
    Shift,
    Site,
    SpecialHours,
    Station,
    Submission,
    Supply,
    Threshold,
    TravelTime,
    User,
)
from sites.services.api_tokens import api_token_make
from sites.services.programmes import thresholds_set
from sites.services.submissions import submission_send
from tests.sites import breaking_offers
from tests.sites.breaking import Break, changed, doubled
from tests.sites.breaking_intake import OF_INTAKE, listed
from tests.sites.breaking_notices import OF_NOTICES
from tests.sites.build import DAY, NOW, World

LATER = NOW + timedelta(hours=1)


BREAKS: dict[str, Break] = {
    "user_role_known": changed(User, role="owner", is_superuser=False),
    "user_administrator_is_superuser": changed(User, role="manager", is_superuser=True),
    "purge_ends_after_it_begins": lambda here: Purge.objects.create(
        begun_at=LATER, ended_at=NOW, as_of=DAY
    ),
    "programme_version_one_a_day": doubled(ProgrammeVersion),
    "programme_version_counts_positive": changed(ProgrammeVersion, attempts_per_capture=0),
    "programme_version_risks_are_chances": changed(ProgrammeVersion, wait_risk=1.1),
    "programme_version_costs_not_negative": changed(ProgrammeVersion, cost_move=-1),
    "threshold_once": doubled(Threshold),
    "threshold_position_known": changed(Threshold, position=18),
    "threshold_impression_known": changed(Threshold, impression=4),
    "threshold_score_of_its_algorithm": changed(Threshold, score=101),
    "profile_durations_not_negative": changed(Profile, setup_mean=-1),
    "profile_no_show_is_a_chance": changed(Profile, no_show=2),
    "profile_capture_order": doubled(ProfileCapture),
    "profile_capture_kind_known": changed(ProfileCapture, kind="slap"),
    "profile_capture_is_possible": changed(ProfileCapture, retake=1),
    "site_has_a_zone": changed(Site, timezone=""),
    "site_is_on_earth": changed(Site, latitude=91, longitude=0),
    "hours_weekday_known": changed(OpeningHours, weekday=7),
    "hours_within_one_day": changed(OpeningHours, closes=1441),
    "hours_end_after_they_start": changed(OpeningHours, starts_on=DAY, ends_on=DAY),
    "special_hours_once": doubled(SpecialHours),
    "special_hours_within_one_day": changed(SpecialHours, closes=0),
    "closure_span_is_a_span": changed(Closure, minutes=0),
    "closure_says_why": changed(Closure, reason=""),
    "reserve_once_a_day": doubled(Reserve),
    "scanner_on_one_station": lambda here: ScannerPlacement.objects.create(
        scanner=Scanner.objects.get(code="sc-st-1"),
        station=Station.objects.create(code="new", site=here.site),
        starts_on=date(2027, 1, 1),
    ),
    "station_one_scanner": lambda here: ScannerPlacement.objects.create(
        scanner=Scanner.objects.create(code="new", serial="new"),
        station=here.stations[0],
        starts_on=date(2027, 1, 1),
    ),
    "placement_ends_after_it_starts": changed(ScannerPlacement, ends_on=date(2020, 1, 1)),
    "downtime_span_is_a_span": changed(Downtime, minute=1440),
    "downtime_says_why": changed(Downtime, reason=""),
    "certification_once": doubled(Certification),
    "certification_expires_after_it_starts": changed(Certification, expires_on=DAY),
    "shift_span_is_a_span": changed(Shift, minutes=0),
    "shift_break_fits_its_window": changed(Shift, break_minutes=30, break_from=600, break_to=629),
    "shift_holds_its_break": changed(Shift, break_minutes=601, break_from=0, break_to=900),
    "break_span_is_a_span": lambda here: break_of(here, minutes=0),
    "absence_span_is_a_span": lambda here: absence_of(here, minutes=0),
    "care_rule_once": doubled(CareRule),
    "care_rule_kind_known": changed(CareRule, kind="polish"),
    "care_rule_falls_due": changed(CareRule, every_days=None),
    "care_rule_takes_time": changed(CareRule, minutes=0),
    "care_kind_known": changed(CareWindow, kind="polish"),
    "care_outcome_known": changed(CareWindow, outcome="later", closed_at=NOW),
    "care_can_be_placed": changed(CareWindow, latest=date(2020, 1, 1)),
    "care_has_a_whole_time_or_none": changed(CareWindow, day=DAY),
    "care_outcome_says_when": changed(CareWindow, outcome="done"),
    "home_area_is_on_earth": changed(HomeArea, latitude=0, longitude=181),
    "travel_time_once": doubled(TravelTime),
    "request_due_after_release": changed(Request, due=date(2020, 1, 1)),
    "request_expires_after_due": changed(Request, expires=date(2020, 1, 1)),
    "request_priority_positive": changed(Request, priority=0),
    "request_cost_not_negative": changed(Request, cost_unbooked=-1),
    "request_rework_of_another": changed(Request, rework_of=models.F("id"), rework=True),
    "request_closed_says_why": changed(Request, closed_at=NOW),
    "request_site_once": doubled(RequestSite),
    "request_time_once": doubled(RequestTime),
    "request_time_is_a_span": changed(RequestTime, minutes=0),
    "plan_run_has_days": changed(PlanRun, days=0),
    "plan_run_state_known": changed(PlanRun, state="resting", started_at=NOW, ended_at=LATER),
    "plan_run_one_budget": changed(PlanRun, seconds=5, effort=5),
    "plan_run_lease_while_planning": changed(PlanRun, lease_until=LATER),
    "plan_run_ended_or_open": changed(PlanRun, started_at=NOW, ended_at=LATER),
    "plan_run_ends_after_it_starts": changed(
        PlanRun, state="ready", started_at=LATER, ended_at=NOW
    ),
    "plan_run_failed_says_why": changed(PlanRun, state="failed", started_at=NOW, ended_at=LATER),
    "plan_run_kept_says_when": changed(PlanRun, state="kept", started_at=NOW, ended_at=LATER),
    "plan_result_of_an_attempt": lambda here: PlanResult.objects.create(
        run=PlanRun.objects.get(), attempt=0, saved_at=NOW, network=b"", plan=b""
    ),
    "run_part_once": doubled(RunPart),
    "run_part_state_known": changed(RunPart, state="resting"),
    "run_part_lease_while_planning": changed(RunPart, lease_until=LATER),
    "run_part_done_has_a_plan": changed(RunPart, plan=b"plan"),
    "appointment_span_is_a_span": changed(Appointment, minutes=0),
    "appointment_step_known": changed(Appointment, step="lost"),
    "request_one_active_appointment": doubled(Appointment, code="again", step="displaced"),
    "appointment_told_before_start": changed(Appointment, told_minute=601),
    "appointment_p_wait_is_a_chance": changed(Appointment, p_wait=1.5),
    "appointment_event_step_known": changed(AppointmentEvent, step="lost"),
    "session_end_known": changed(Session, ended_how="vanished", ended_at=LATER),
    "session_ends_after_it_starts": changed(Session, ended_at=None),
    "session_identity_by_whom_and_when": changed(Session, identity_checked_by=None),
    "session_complete_needs_identity": changed(
        Session, identity_checked_by=None, identity_checked_at=None
    ),
    "attempt_once": doubled(Attempt, kept=False),
    "attempt_one_kept": doubled(Attempt, number=2),
    "attempt_position_known": changed(Attempt, position=18),
    "attempt_impression_known": changed(Attempt, impression=4),
    "attempt_number_positive": changed(Attempt, number=0),
    "attempt_cause_known": changed(Attempt, cause="bad luck"),
    "attempt_takes_time": changed(Attempt, seconds=-1),
    "attempt_score_of_its_algorithm": changed(Attempt, algorithm="nfiq1", score=6),
    "missing_once": doubled(MissingFinger),
    "missing_is_a_single_finger": changed(MissingFinger, position=13),
    "missing_review_only_for_now": changed(MissingFinger, review_on=DAY),
    "override_once": doubled(Override),
    "override_position_known": changed(Override, position=18),
    "override_kind_known": changed(Override, kind="hurry"),
    "override_says_why": changed(Override, reason=""),
    "override_second_is_another": changed(Override, second=models.F("by")),
    "submission_has_a_control_number": changed(Submission, control_number=""),
    "returned_number_carried_once": doubled(Submission, control_number="n-3"),
    "submission_carries_another_number": changed(Submission, returned_control_number="n-2"),
    "response_kind_known": changed(Response, kind="maybe"),
    "response_read_after_received": changed(Response, read_at=NOW - timedelta(days=400)),
    "response_contacted_after_read": changed(
        Response, read_at=LATER, contacted_at=LATER - timedelta(minutes=1)
    ),
    "notice_kind_known": changed(Notice, kind="hello"),
    **OF_INTAKE,
    **OF_NOTICES,
    "notice_told_after_raised": changed(Notice, told_at=datetime(2020, 1, 1, tzinfo=UTC)),
    "supply_once": doubled(Supply),
    "api_token_expires_after_it_is_made": changed(ApiToken, expires_at=NOW),
    "api_token_has_a_digest": changed(ApiToken, digest=""),
    "api_call_key_once": doubled(ApiCall),
    "api_call_answered_with_an_answer": changed(ApiCall, answered_at=LATER),
    "proposal_of_one_time": breaking_offers.proposed_twice,
    **{name: changed(model, **values) for name, (model, values) in breaking_offers.CHANGES.items()},
    **{name: doubled(model, **values) for name, (model, values) in breaking_offers.DOUBLES.items()},
}
# A comparison with nothing is neither true nor false, and a check that is not false passes: each
# of these leaves out a value that a constraint compares.
MISSING: dict[str, tuple[str, Break]] = {
    "a site with half its coordinates": (
        "site_is_on_earth",
        changed(Site, latitude=None, longitude=5),
    ),
    "an area with half its coordinates": (
        "home_area_is_on_earth",
        changed(HomeArea, latitude=None, longitude=5),
    ),
    "a break with half its window": (
        "shift_break_fits_its_window",
        changed(Shift, break_minutes=30, break_to=700),
    ),
    "a break without its window": ("shift_break_fits_its_window", changed(Shift, break_minutes=30)),
    "care rules that never fall due": (
        "care_rule_falls_due",
        changed(CareRule, every_days=0, every_captures=None),
    ),
    "care with a day and no minute": (
        "care_has_a_whole_time_or_none",
        changed(CareWindow, day=DAY, starts_at=NOW, ends_at=LATER),
    ),
    "care with no end": (
        "care_has_a_whole_time_or_none",
        changed(CareWindow, day=DAY, minute=5, starts_at=NOW),
    ),
    "a run that ended and never started": (
        "plan_run_ends_after_it_starts",
        changed(PlanRun, state="ready", ended_at=NOW),
    ),
    "a run that nobody took and somebody works on": (
        "plan_run_lease_while_planning",
        changed(PlanRun, state="planning", lease_until=LATER, started_at=NOW),
    ),
    "a run that somebody works on without a lease": (
        "plan_run_lease_while_planning",
        changed(PlanRun, state="planning", attempt=1, started_at=NOW),
    ),
    "a part that somebody works on without a lease": (
        "run_part_lease_while_planning",
        changed(RunPart, state="planning", attempt=1),
    ),
    "a part that is planned and has no plan": (
        "run_part_done_has_a_plan",
        changed(RunPart, state="done"),
    ),
    "a run over without an end": ("plan_run_ended_or_open", changed(PlanRun, state="ready")),
    "a run for no seconds": ("plan_run_one_budget", changed(PlanRun, seconds=0)),
    "an algorithm without a score": (
        "attempt_score_of_its_algorithm",
        changed(Attempt, score=None),
    ),
    "a session that ended somehow, at no time": (
        "session_ends_after_it_starts",
        changed(Session, ended_at=None),
    ),
    "a subject contacted before anybody read": (
        "response_contacted_after_read",
        changed(Response, contacted_at=LATER),
    ),
}


def span(minutes: int) -> dict[str, Any]:
    """A time of no length at all on the wall, a minute long as instants."""
    return {
        "day": DAY,
        "minute": 1000,
        "minutes": minutes,
        "starts_at": NOW,
        "ends_at": NOW + timedelta(minutes=1),
    }


def break_of(here: World, minutes: int) -> None:
    """Give the first shift a break."""
    shift = Shift.objects.order_by("pk").first()
    assert shift is not None
    apps.get_model("record", "Break").objects.create(
        shift=shift, technician=shift.technician, **span(minutes)
    )


def absence_of(here: World, minutes: int) -> None:
    """Make the second technician absent."""
    apps.get_model("record", "Absence").objects.create(
        technician=here.technicians[1], **span(minutes)
    )


@pytest.fixture
def full(here: World) -> World:
    """The small world, with a row of everything."""
    listed(here)
    site, station = here.site, here.stations[1]
    times = {"day": DAY, "minute": 900, "minutes": 30, "starts_at": NOW, "ends_at": LATER}
    thresholds_set(terms=ProgrammeVersion.objects.get())
    SpecialHours.objects.create(site=site, day=DAY, opens=480, closes=1080)
    Closure.objects.create(site=site, reason="x", **{**times, "day": date(2026, 3, 9)})
    Reserve.objects.create(site=site, day=DAY, minutes=5)
    Downtime.objects.create(station=station, reason="x", **times)
    Certification.objects.create(
        technician=here.technicians[0], kind="k", starts_on=DAY, expires_on=date(2027, 1, 1)
    )
    CareRule.objects.create(
        scanner=Scanner.objects.all()[0], kind="cleaning", every_days=1, minutes=5
    )
    CareWindow.objects.create(code="c", station=station, minutes=5, earliest=DAY, latest=DAY)
    area = HomeArea.objects.create(code="h")
    TravelTime.objects.create(area=area, site=site, minutes=5)
    run = PlanRun.objects.create(first_day=DAY, days=1)
    RunPart.objects.create(run=run, run_attempt=1, number=0, place=0, network=b"")
    Supply.objects.create(site=site, kind="lotion")
    ApiCall.objects.create(caller=here.desk, key="k", body="b", started_at=NOW)
    api_token_make(owner=here.desk, name="x", days=1, at=NOW)
    session = here.session(here.request("r-1"), 600)
    people = {"identity_checked_by": here.taker, "identity_checked_at": NOW}
    Session.objects.update(started_at=NOW, ended_at=LATER, ended_how="complete", **people)
    Attempt.objects.create(
        session=session,
        position=2,
        impression=1,
        number=1,
        kept=True,
        algorithm="nfiq2",
        algorithm_version="2.2",
        score=50,
    )
    MissingFinger.objects.create(session=session, position=5, code="XX")
    Override.objects.create(
        session=session, position=2, kind="quality", reason="x", at=NOW, by=here.taker
    )
    session.refresh_from_db()
    submission_send(session=session, control_number="n-1", at=NOW)
    sent = Submission.objects.create(
        request=session.appointment.request,
        session=session,
        control_number="n-2",
        returned_control_number="n-1",
        sent_at=NOW,
    )
    Response.objects.create(submission=sent, kind="accepted", received_at=NOW)
    NoticeText.objects.create(programme=here.programme, kind="booked", heading="h", body="b")
    ExceptionRoute.objects.create(
        request=session.appointment.request,
        first_number="n-1",
        second_number="n-2",
        opened_at=NOW,
        closes_on=DAY,
    )
    RequestTime.objects.create(request=session.appointment.request, day=DAY, minute=600, minutes=60)
    breaking_offers.fill(here, session.appointment.request)
    return here


def all_constraints() -> set[str]:
    """Names of all constraints of the record's models."""
    return {
        constraint.name
        for model in apps.get_app_config("record").get_models()
        for constraint in model._meta.constraints
    }


def test_every_constraint_is_tried() -> None:
    assert set(BREAKS) == all_constraints()
    assert len(BREAKS) > 80


@pytest.mark.parametrize("name", BREAKS)
def test_the_database_refuses(full: World, name: str) -> None:
    said = SAID[name] if connection.vendor == "sqlite" and name in SAID else name
    with pytest.raises(IntegrityError, match=re.escape(said)), transaction.atomic():
        BREAKS[name](full)


@pytest.mark.parametrize("what", MISSING)
def test_nothing_is_not_a_way_round(full: World, what: str) -> None:
    name, attempt = MISSING[what]
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        attempt(full)


# SQLite does not name a unique constraint but its columns.
SAID = {
    constraint.name: "UNIQUE constraint failed: "
    + ", ".join(
        f"{model._meta.db_table}.{field.column}"
        for name in constraint.fields
        for field in model._meta.concrete_fields
        if field.name == name
    )
    for model in apps.get_app_config("record").get_models()
    for constraint in model._meta.constraints
    if isinstance(constraint, models.UniqueConstraint)
}
