"""Notices become messages: once, in order, with the calendar file, and nothing personal outside."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.mail import EmailMultiAlternatives

from sites.errors import ChangedMeanwhile, StepRefused
from sites.models import Notice, NoticeState, ProgrammeVersion, Subject
from sites.notices.post import Fate, Handed
from sites.outbox import send_due
from sites.services.appointments import appointment_step
from sites.services.notices import (
    LEASE,
    TRIES,
    notice_again,
    notice_close,
    notice_open,
    notice_told,
    notices_release,
    notices_take,
)
from sites.services.reminders import reminders_raise
from tests.sites.build import DAY, World
from tests.sites.mailserver import mail_server
from tests.sites.told import BEFORE, EMAIL, booked, moved, states

Outbox = list[EmailMultiAlternatives]


@pytest.fixture(autouse=True)
def held(settings: Any) -> None:
    """The record's present is six days before `DAY`."""
    settings.NOW = BEFORE


def test_an_invitation_is_sent_once_with_its_calendar_file(here: World, mailoutbox: Outbox) -> None:
    booked(here)
    assert send_due() == {"sent": 1}
    assert send_due() == {}
    (message,) = mailoutbox
    assert message.to == [EMAIL]
    assert "Monday 2 March 2026, 10:00" in message.body
    assert "Europe/Vienna, UTC+01:00" in message.body
    assert "moisturise your hands at least twice a day" in message.body
    assert "fresh cut, a blister or a bandage" in message.body
    parsed = message.message()
    kinds = [part.get_content_type() for part in parsed.walk() if not part.is_multipart()]
    assert kinds == ["text/plain", "text/html", "text/calendar", "application/ics"]
    calendar = next(part for part in parsed.walk() if part.get_content_type() == "text/calendar")
    assert calendar.get_param("method") == "REQUEST"  # RFC 6047, 2.4
    assert states() == [("booked", "sent")]
    assert Notice.objects.get().told_at == BEFORE


def test_nothing_personal_in_subject_lines_headers_and_logs(
    here: World, mailoutbox: Outbox, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    appointment = booked(here)
    send_due()
    appointment_step(appointment=appointment, action="cancel", by=here.desk, at=BEFORE)
    send_due()
    assert len(mailoutbox) == 2
    for message in mailoutbox:
        headers = message.message().items()
        outside = " ".join(f"{name} {value}" for name, value in headers if name != "To")
        for personal in ("Ilmi", "Tavoren", "tavoren", "r-1", "s-r-1"):
            assert personal not in outside
            assert personal not in caplog.text
    assert "notice" in caplog.text


def test_what_was_moved_before_it_was_sent_is_told_once_and_as_it_is(
    here: World, mailoutbox: Outbox
) -> None:
    moved(here, booked(here), 660)
    send_due()
    assert states() == [("booked", "overtaken"), ("moved", "sent")]
    (message,) = mailoutbox
    assert "11:00" in message.body
    assert "10:00" not in message.body


def test_a_cancelled_time_is_told_even_where_another_one_follows(
    here: World, mailoutbox: Outbox
) -> None:
    first = booked(here)
    send_due()
    appointment_step(appointment=first, action="cancel", by=here.desk, at=BEFORE)
    here.book(first.request, 660, at=BEFORE)
    assert send_due()["sent"] == 2
    subjects = [message.subject for message in mailoutbox]
    assert [subject.partition(":")[0] for subject in subjects] == [
        "Your appointment",
        "Your appointment does not take place",
        "Your appointment",
    ]


def test_whoever_has_no_address_is_listed_to_be_phoned_and_told_by_a_person(
    here: World, mailoutbox: Outbox
) -> None:
    booked(here, email="")
    assert send_due() == {"without": 1}
    notice = Notice.objects.get()
    assert notice.state == NoticeState.PHONE
    told = notice_told(notice=notice, by=here.desk, at=BEFORE)
    assert (told.state, told.told_by, told.told_at) == (NoticeState.TOLD, here.desk, BEFORE)
    with pytest.raises(ChangedMeanwhile):
        notice_told(notice=notice, by=here.desk)
    with pytest.raises(StepRefused):
        notice_again(notice=told)
    assert mailoutbox == []


def test_an_address_that_is_none_is_listed_and_sent_once_it_is_corrected(
    here: World, mailoutbox: Outbox
) -> None:
    booked(here, email="ilmi at home")
    send_due()
    notice = Notice.objects.get()
    assert (notice.state, "correct it" in notice.fault) == (NoticeState.FAILED, True)
    assert "ilmi" not in notice.fault
    subject = Subject.objects.get()
    subject.email = EMAIL
    subject.save()
    notice_again(notice=notice)
    assert send_due() == {"sent": 1}
    assert len(mailoutbox) == 1


def test_a_time_that_has_passed_is_not_told_any_more(
    here: World, mailoutbox: Outbox, settings: Any
) -> None:
    booked(here)
    settings.NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)  # 10:00 at the site: it begins now
    send_due()
    assert states() == [("booked", "overtaken")]
    assert mailoutbox == []


def test_a_sender_that_died_before_handing_over_gives_back_and_after_it_is_listed(
    here: World, mailoutbox: Outbox
) -> None:
    booked(here, "r-1", 600)
    booked(here, "r-2", 640)
    first, second = notices_take(count=5)
    assert notice_open(taken=second, at=BEFORE) is not None
    assert notices_release() == 0
    Notice.objects.update(lease_until=Notice.objects.get(pk=first.pk).raised_at - LEASE)
    assert notices_release() == 2
    assert states() == [("booked", "waiting"), ("booked", "unsure")]
    assert notice_open(taken=first, at=BEFORE) is None
    assert send_due() == {"sent": 1}
    assert len(mailoutbox) == 1
    # The first sender was only slow, and says now what became of its message.
    assert notice_close(taken=second, handed=Handed(Fate.SENT), at=BEFORE)
    assert states() == [("booked", "sent"), ("booked", "sent")]


def test_an_old_try_writes_nothing_into_a_new_one(here: World) -> None:
    booked(here)
    (old,) = notices_take(count=5)
    Notice.objects.update(lease_until=BEFORE)
    notices_release()
    (new,) = notices_take(count=5)
    assert (new.pk, new.attempt) == (old.pk, old.attempt + 1)
    assert not notice_close(taken=old, handed=Handed(Fate.REFUSED, "x"), at=BEFORE)
    assert Notice.objects.get().state == NoticeState.SENDING


def test_two_notices_of_one_request_are_never_under_way_together(here: World) -> None:
    appointment = booked(here)
    notices_take(count=5)
    moved(here, appointment, 660)
    assert notices_take(count=5) == []


@pytest.mark.parametrize(
    ("stage", "reply", "state", "words"),
    [
        ("RCPT", "550 no such user ilmi.tavoren@example.invalid", "failed", "code 550"),
        ("MAIL", "553 sender not wanted", "failed", "code 553"),
        ("DATA", "554 not wanted", "failed", "code 554"),
        ("RCPT", "450 try later", "waiting", "code 450"),
        ("DATA", "452 full", "waiting", "code 452"),
    ],
)
def test_what_the_mail_server_refuses_is_kept_by_its_code(  # RFC 5321, 4.2.1: 4yz later, 5yz never
    here: World, settings: Any, stage: str, reply: str, state: str, words: str
) -> None:
    booked(here)
    with mail_server() as mail:
        by_smtp(settings, mail.port)
        mail.refuse[stage] = reply
        send_due()
        notice = Notice.objects.get()
        assert (notice.state, words in notice.fault) == (state, True)
        assert "ilmi" not in notice.fault
        assert (notice.not_before is not None) == (state == "waiting")
        assert send_due() == {}
        mail.refuse.clear()
        Notice.objects.update(not_before=None)
        if state == "failed":
            notice_again(notice=notice)
        assert send_due() == {"sent": 1}
        (message,) = mail.messages()
        assert message["To"] == EMAIL


def test_after_some_refusals_for_now_a_person_is_asked(here: World, settings: Any) -> None:
    booked(here)
    with mail_server() as mail:
        by_smtp(settings, mail.port)
        mail.refuse["RCPT"] = "450 try later"
        for _ in range(TRIES):
            assert Notice.objects.get().state == NoticeState.WAITING
            Notice.objects.update(not_before=None)
            send_due()
    assert states() == [("booked", "failed")]


def test_without_a_mail_server_everything_waits_and_nothing_is_lost(
    here: World, settings: Any
) -> None:
    booked(here, "r-1", 600)
    booked(here, "r-2", 640)
    with mail_server() as mail:
        port = mail.port
    by_smtp(settings, port)
    for _ in range(TRIES + 1):
        Notice.objects.update(not_before=None)
        assert send_due() == {"waiting": 2}
    assert states() == [("booked", "waiting")] * 2
    assert Notice.objects.filter(fault="no mail server answered").count() == 2


def by_smtp(settings: Any, port: int) -> None:
    """Let messages leave for the test's own mail server."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port


@pytest.mark.parametrize(
    ("at", "raised"),
    [
        (datetime(2026, 2, 28, 6, 59, tzinfo=UTC), 0),  # 07:59 in Vienna, two days before
        (datetime(2026, 2, 28, 7, 0, tzinfo=UTC), 1),
        (datetime(2026, 3, 1, 1, 0, tzinfo=UTC), 1),  # nobody was there on the day itself
        (datetime(2026, 3, 2, 9, 0, tzinfo=UTC), 0),  # it begins
    ],
)
def test_a_reminder_is_raised_two_days_before_by_the_sites_clock_and_once(
    here: World, at: datetime, raised: int
) -> None:
    booked(here)
    assert reminders_raise(at=at) == raised
    assert reminders_raise(at=at) == 0


def test_a_programme_can_remind_earlier_or_never(here: World) -> None:
    booked(here)
    ProgrammeVersion.objects.update(reminder_days=0)
    assert reminders_raise(at=datetime(2026, 3, 1, 12, 0, tzinfo=UTC)) == 0
    ProgrammeVersion.objects.update(reminder_days=5)
    assert reminders_raise(at=datetime(2026, 2, 25, 12, 0, tzinfo=UTC)) == 1


def test_whoever_was_just_told_is_not_reminded(here: World) -> None:
    appointment = booked(here)
    at = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
    Notice.objects.update(raised_at=at - timedelta(hours=1))
    assert reminders_raise(at=at) == 0
    assert appointment.day == DAY


def test_a_reminder_of_a_time_that_was_cancelled_is_not_sent(
    here: World, mailoutbox: Outbox, settings: Any
) -> None:
    appointment = booked(here)
    send_due()
    at = datetime(2026, 2, 28, 12, 0, tzinfo=UTC)
    reminders_raise(at=at)
    settings.NOW = at
    appointment_step(appointment=appointment, action="cancel", by=here.desk, at=at)
    send_due()
    assert states() == [("booked", "sent"), ("reminder", "overtaken"), ("cancelled", "sent")]
    assert len(mailoutbox) == 2
