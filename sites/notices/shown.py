"""Notices as they are looked at: a letter, its calendar file, and a text before it is saved."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sites.clock import visit_span
from sites.models import Appointment, Notice, NoticeKind, Programme, Site, Station
from sites.notices.calendar import CANCEL, PUBLISH, Invite, calendar_file
from sites.notices.defaults import Text
from sites.notices.letter import (
    SUMMARY,
    WITH_CALENDAR,
    Letter,
    appointment_values,
    compose,
    letter_values,
    note_of,
    programme_values,
)
from sites.notices.post import sender
from sites.notices.texts import words_for
from sites.notices.words import filled

SAMPLE = {"name": "Ilmi Tavoren", "reference": "r-000123"}
"""An invented subject."""


def letter_shown(notice: Notice, *, named: bool) -> Letter:
    """The letter, without the name for whoever may not see it.

    ``notice`` comes with subject, programme and the appointment's site.
    """
    kind, request = NoticeKind(notice.kind), notice.request
    text = words_for(
        programme=request.terms.programme, kind=kind, language=request.subject.language
    )
    values = letter_values(
        request, notice.appointment, language=request.subject.language, named=named
    )
    return compose(text, values)


def calendar_shown(notice: Notice, *, at: datetime) -> bytes | None:
    """The calendar file of a notice, without anybody's address; None where it has none."""
    method = WITH_CALENDAR.get(NoticeKind(notice.kind))
    if notice.appointment is None or method is None:
        return None
    values = letter_values(notice.request, notice.appointment, named=False)
    invite = Invite(
        method=CANCEL if method == CANCEL else PUBLISH,
        summary=filled(SUMMARY, values),
        description=note_of(values),
        organizer=notice.request.terms.programme.reply_to or sender(),
    )
    return calendar_file(notice.appointment, invite, at=at)


def text_shown(
    *, programme: Programme, kind: NoticeKind, text: Text, language: str, at: datetime
) -> Letter:
    """The letter to an invented subject, at an invented time at one of the sites.

    Raises BadValue for a variable that is not known there.
    """
    values = {**SAMPLE, **programme_values(programme)}
    if kind != NoticeKind.RETURNED:
        site = Site.objects.first() or Site(name="Site", timezone="UTC")
        values |= appointment_values(sample(site, at), language)
    return compose(text, values)


def sample(site: Site, at: datetime) -> Appointment:
    """Half past ten, two weeks ahead, in no database."""
    day = (at.astimezone(UTC) + timedelta(days=14)).date()
    return Appointment(
        station=Station(site=site), told_minute=630, **visit_span(site.timezone, day, 632, 25)
    )
