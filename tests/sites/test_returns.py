"""Returns: read, told, asked for again as recommended, sent again, or taken the exception route."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.core.mail import EmailMultiAlternatives

from planner.gateway.record import read
from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    Appointment,
    Cause,
    ExceptionRoute,
    MissingCode,
    Notice,
    NoticeState,
    Profile,
    ProfileCapture,
    ProgrammeVersion,
    Request,
    Response,
    ResponseKind,
    Scanner,
    ScannerPlacement,
    Session,
    Site,
    Skill,
    Station,
    Step,
    Submission,
)
from sites.models.codes import FingerPosition
from sites.models.profile import CaptureKind
from sites.outbox import send_due
from sites.selectors.advice import rework_advice
from sites.selectors.returns import Todo, returns_by_age, returns_todo, returns_waiting, routes_open
from sites.selectors.standing import Standing
from sites.services.exceptions import exception_ask
from sites.services.requests import request_rework
from sites.services.returns import (
    response_fixed,
    response_reached,
    responses_mark_read,
    rework_as_advised,
)
from sites.services.sessions import missing_record
from sites.services.submissions import response_read, submission_send
from tests.sites.back import SENT, came_back, captured, completed, sent, today
from tests.sites.build import DAY, World
from tests.sites.test_visits import standing
from tests.sites.told import EMAIL


def todos() -> list[tuple[str, str]]:
    """Control numbers and what is to be done, of the whole queue."""
    rows = returns_todo(responses=Response.objects.all()).order_by("submission__control_number")
    return list(rows.values_list("submission__control_number", "todo"))


def test_the_queue_walks_from_reading_to_rework(here: World) -> None:
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    at = SENT + timedelta(days=2)
    assert todos() == [("n-1", Todo.READ)]
    response = response_read(response=response, by=here.desk, at=at)
    assert todos() == [("n-1", Todo.CONTACT)]
    response_reached(response=response, by=here.desk, at=at)
    assert todos() == [("n-1", Todo.ASK)]
    rework = rework_as_advised(response=response, today=today(2))
    assert todos() == [("n-1", Todo.DONE)]
    assert (rework.reference, rework.rework_of) == ("r-1-2", response.submission.request)


def test_a_rework_that_was_asked_for_first_leaves_the_subject_to_be_contacted(here: World) -> None:
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    response_read(response=response, by=here.desk, at=SENT + timedelta(days=2))
    rework_as_advised(response=response, today=today(2))
    assert todos() == [("n-1", Todo.CONTACT)]


@pytest.mark.parametrize(
    ("kind", "todo"), [(ResponseKind.DATA, Todo.FIX), (ResponseKind.TRANSMISSION, Todo.SEND)]
)
def test_desk_returns_take_no_station_time_and_end_when_they_are_sent_again(
    here: World, kind: ResponseKind, todo: Todo
) -> None:
    response = came_back(sent(here, "r-1", "n-1"), kind)
    at = SENT + timedelta(days=2)
    with pytest.raises(StepRefused, match="read the response first"):
        response_fixed(response=response, control_number="n-2", at=at)
    response = response_read(response=response, by=here.desk, at=at)
    assert todos() == [("n-1", todo)]
    assert read(first_day=today(2), days=5).requests == ()
    assert not Notice.objects.filter(kind="returned").exists()
    again = response_fixed(response=response, control_number="n-2", at=at)
    assert again.returned_control_number == "n-1"
    assert todos() == [("n-1", Todo.DONE)]
    image = came_back(sent(here, "r-2", "n-3", 700), ResponseKind.IMAGE)
    with pytest.raises(StepRefused, match="the subject has to come again"):
        response_fixed(response=image, control_number="n-4", at=at)


def test_the_ageing_table_counts_working_days(here: World) -> None:
    """`DAY` is a Monday: Tuesday to the Tuesday after next are ten working days."""
    came_back(sent(here, "r-1", "n-1", 600), ResponseKind.IMAGE, 1)
    came_back(sent(here, "r-2", "n-2", 640), ResponseKind.DATA, 8)
    came_back(sent(here, "r-3", "n-3", 680), ResponseKind.ACCEPTED, 1)
    waiting = returns_waiting(rows=returns_todo(responses=Response.objects.all()), today=today(15))
    assert [(each.response.submission.control_number, each.age) for each in waiting] == [
        ("n-1", 10),
        ("n-2", 5),
    ]
    table = returns_by_age(waiting)
    assert table[Todo.READ] == {"6-10": 1, "2-5": 1}
    assert sum(sum(counts.values()) for counts in table.values()) == 2


def test_reading_tells_the_subject_and_a_message_that_left_is_the_contact(
    here: World, settings: Any, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    submission = sent(here, "r-1", "n-1")
    subject = submission.request.subject
    subject.email = EMAIL
    subject.save()
    response = came_back(submission, ResponseKind.IMAGE)
    settings.NOW = SENT + timedelta(days=2)
    send_due()
    told_before = [message.subject for message in mailoutbox]
    assert not any("once more" in each for each in told_before)
    response_read(response=response, by=here.desk, at=SENT + timedelta(days=2))
    send_due()
    assert mailoutbox[-1].subject == "Please come once more: Programme one"
    assert "twice a day" in mailoutbox[-1].body
    response.refresh_from_db()
    assert response.contacted_at == SENT + timedelta(days=2)


def test_reaching_the_subject_by_phone_keeps_the_message_back(here: World) -> None:
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    response_reached(response=response, by=here.desk, at=SENT + timedelta(days=2))
    notice = Notice.objects.get(kind="returned")
    assert (notice.state, notice.told_by) == (NoticeState.TOLD, here.desk)


def test_many_are_read_at_once_and_what_was_read_keeps_its_reader(here: World) -> None:
    first = came_back(sent(here, "r-1", "n-1", 600), ResponseKind.IMAGE)
    second = came_back(sent(here, "r-2", "n-2", 640), ResponseKind.DATA)
    first = response_read(response=first, by=here.taker, at=SENT + timedelta(days=1))
    assert responses_mark_read(responses=[first, second], by=here.desk, at=SENT) == 1
    readers = Response.objects.order_by("pk").values_list("read_by", flat=True)
    assert list(readers) == [here.taker.pk, here.desk.pk]


def test_a_rework_set_carries_the_returned_number_by_itself_and_once(here: World) -> None:
    """31 Miss. Code R. 1-10.20: the resubmission carries the returned set's number, once."""
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    rework = request_rework(response=response, reference="r-1-2", today=DAY)
    session = captured(here, rework, 700)
    first = submission_send(session=session, control_number="n-2", at=SENT)
    second = submission_send(session=session, control_number="n-3", at=SENT)
    assert (first.returned_control_number, second.returned_control_number) == ("n-1", "")


def returned_twice(here: World) -> Response:
    """A need whose second set came back too."""
    first = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    rework = request_rework(response=first, reference="r-1-2", today=DAY)
    session = captured(here, rework, 700)
    second = submission_send(session=session, control_number="n-2", at=SENT)
    return came_back(second, ResponseKind.IMAGE, 3)


def test_a_second_image_return_opens_the_exception_route_with_both_numbers(here: World) -> None:
    """Two image returns, both numbers, 90 days: public guidance (the unit is recalled)."""
    response = returned_twice(here)
    route = ExceptionRoute.objects.get()
    assert (route.first_number, route.second_number) == ("n-1", "n-2")
    assert route.closes_on == date(2026, 3, 5) + timedelta(days=90)
    assert list(routes_open(today=route.closes_on, requests=Request.objects.all())) == [route]
    late = route.closes_on + timedelta(days=1)
    assert list(routes_open(today=late, requests=Request.objects.all())) == []
    response_reached(response=response, by=here.desk, at=SENT + timedelta(days=4))
    assert standing(response.submission.request) == Standing.RETURNED_IMAGE
    with pytest.raises(StepRefused, match="closed on 2026-06-03"):
        exception_ask(route=route, by=here.desk, today=date(2026, 6, 4))
    asked = exception_ask(route=route, by=here.desk, today=date(2026, 6, 3))
    assert (asked.asked_by, standing(response.submission.request)) == (
        here.desk,
        Standing.EXCEPTION,
    )
    assert todos() == [("n-1", Todo.READ), ("n-2", Todo.DONE)]
    assert read(first_day=DAY, days=5).requests == ()
    with pytest.raises(ChangedMeanwhile):
        exception_ask(route=route, by=here.desk, today=DAY)


def test_the_days_of_the_exception_route_are_the_programmes(here: World) -> None:
    ProgrammeVersion.objects.update(return_window_days=30)
    returned_twice(here)
    assert ExceptionRoute.objects.get().closes_on == date(2026, 4, 4)


def test_a_first_image_return_opens_no_exception_route(here: World) -> None:
    came_back(sent(here, "r-1", "n-1", 600), ResponseKind.IMAGE)
    came_back(sent(here, "r-2", "n-2", 640), ResponseKind.IMAGE)
    assert not ExceptionRoute.objects.exists()


def test_an_answer_before_the_set_was_sent_is_refused(here: World) -> None:
    with pytest.raises(BadValue, match="before it was sent"):
        came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE, -1)
    assert not Response.objects.exists()


def wider(here: World) -> tuple[Profile, Skill, Site]:
    """A longer kind of session, a skill that somebody has, and another site."""
    profile = Profile.objects.create(code="slow", name="Slow", setup_mean=9, wrapup_minutes=1)
    ProfileCapture.objects.create(
        profile=profile, kind=CaptureKind.ROLLED, count=10, seconds=30, retake=0.4
    )
    skill = Skill.objects.create(code="difficult_capture")
    here.technicians[1].skills.add(skill)
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    return profile, skill, other


def test_dry_or_worn_skin_asks_for_care_a_longer_session_and_a_skilled_technician(
    here: World,
) -> None:
    profile, skill, _ = wider(here)
    submission = sent(here, "r-1", "n-1", causes=[Cause.DRY, Cause.WORN, Cause.SMEAR])
    found = rework_advice(response=came_back(submission, ResponseKind.IMAGE), today=today(1))
    assert (found.profile, found.skills) == (profile, [skill])
    assert found.release == today(8)
    assert found.due == today(15)
    assert "2 retakes for dry or worn skin: 7 days of hand care first" in found.words
    # By hand: 4 + 10 x 20 x (1 + 0.1 + 0.01) / 60 + 1 = 8.7; 9 + 10 x 30 x 1.56 / 60 + 1 = 17.8
    assert "Slow, 18 minutes on average in place of 9." in found.words


def test_how_fingers_met_the_glass_asks_for_coaching_not_for_waiting(here: World) -> None:
    submission = sent(here, "r-1", "n-1", causes=[Cause.SMEAR, Cause.ROLL_SHORT, Cause.DRY])
    found = rework_advice(response=came_back(submission, ResponseKind.IMAGE), today=today(1))
    assert found.release == today(1)
    assert "coach, roll slowly" in found.words
    assert "No technician is marked as skilled" in found.words
    assert "no longer kind of session" in found.words


def test_a_finger_that_could_not_be_printed_waits_for_healing(here: World) -> None:
    session = here.session(here.request("r-1"))
    missing_record(
        session=session,
        position=FingerPosition.LEFT_RING,
        code=MissingCode.UNPRINTABLE,
        review_on=today(13),
    )
    submission = submission_send(session=completed(here, session), control_number="n-1", at=SENT)
    found = rework_advice(response=came_back(submission, ResponseKind.IMAGE), today=today(1))
    assert found.release == today(13)
    assert "not before Sun 15 Mar 2026, the day on which it is looked at again" in found.words


def test_where_care_ends_after_the_due_date_it_says_so(here: World) -> None:
    ProgrammeVersion.objects.update(rework_days=5)
    submission = sent(here, "r-1", "n-1")
    found = rework_advice(response=came_back(submission, ResponseKind.IMAGE), today=today(1))
    assert found.release == found.due == today(6)
    assert "past the due date: agree on a later one with the programme" in found.words


def answers(here: World, station: Station, numbers: str, kind: ResponseKind) -> None:
    """First answers to sets of a station, one for each sign."""
    for sign in numbers:
        name = f"{station.code}-{kind}-{sign}"
        request = here.request(name)
        start = SENT - timedelta(days=2, minutes=10 * Appointment.objects.count())
        appointment = Appointment.objects.create(
            code=name,
            request=request,
            subject=request.subject,
            station=station,
            technician=here.technicians[0],
            told_minute=0,
            day=DAY,
            minute=0,
            minutes=5,
            starts_at=start,
            ends_at=start + timedelta(minutes=5),
            step=Step.HELD,
        )
        session = Session.objects.create(
            appointment=appointment, scanner=station.placements.get().scanner, started_at=start
        )
        submission = Submission.objects.create(
            request=request, session=session, control_number=name, sent_at=start
        )
        Response.objects.create(submission=submission, kind=kind, received_at=start)


def test_where_a_site_does_worse_another_one_is_advised(here: World) -> None:
    """Wilson, 95 %, by hand: 2 of 8 is at most 59 %, less than the 12 of 18 (67 %) of all."""
    _, _, other = wider(here)
    there = Station.objects.create(code="st-9", site=other)
    scanner = Scanner.objects.create(code="sc-9", serial="sc-9")
    ScannerPlacement.objects.create(scanner=scanner, station=there, starts_on=DAY)
    answers(here, here.stations[0], "abcde", ResponseKind.IMAGE)
    answers(here, here.stations[1], "ab", ResponseKind.ACCEPTED)
    answers(here, there, "abcdefghij", ResponseKind.ACCEPTED)
    submission = sent(here, "r-1", "n-1", sites=[here.site, other])
    response = came_back(submission, ResponseKind.IMAGE)
    found = rework_advice(response=response, today=today(1))
    assert found.sites == [other]
    assert "At Site 1 2 of 8 sets were accepted at once, 12 of 18 sets over all" in found.words
    submission.request.at_sites.filter(site=other).delete()
    found = rework_advice(response=response, today=today(1))
    assert found.sites == [here.site]
    assert "no other site can take it" in found.words


def test_where_a_scanner_does_worse_than_its_site_another_station_is_named(here: World) -> None:
    """Wilson, 95 %, by hand: 0 of 6 is at most 39 %, less than the 10 of 16 (63 %) of the site."""
    answers(here, here.stations[0], "abcde", ResponseKind.IMAGE)
    answers(here, here.stations[1], "abcdefghij", ResponseKind.ACCEPTED)
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    found = rework_advice(response=response, today=today(1))
    assert found.avoid == "st-1"
    assert "0 of 6 sets were accepted at once, 10 of 16 sets at the site" in found.words
    assert found.sites == [here.site]


def test_planning_uses_the_recommended_session(here: World) -> None:
    profile, skill, _ = wider(here)
    response = came_back(sent(here, "r-1", "n-1"), ResponseKind.IMAGE)
    rework = rework_as_advised(response=response, today=today(1))
    assert "7 days of hand care first" in rework.advice
    (asked,) = read(first_day=today(1), days=20).requests
    assert (asked.id, asked.profile, asked.skills) == ("r-1-2", profile.code, (skill.code,))
    assert (asked.release, asked.due, asked.rework) == (7, 14, True)
