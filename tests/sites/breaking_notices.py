"""How the constraints of notices, their texts and the exception route are broken."""

from __future__ import annotations

from datetime import timedelta

from sites.models import Appointment, ExceptionRoute, Notice, NoticeText
from tests.sites.breaking import Break, changed, doubled
from tests.sites.build import DAY, NOW

LATER = NOW + timedelta(hours=1)
OF_NOTICES: dict[str, Break] = {
    "notice_state_known": changed(Notice, state="gone"),
    "notice_reached_says_when": changed(Notice, state="sent"),
    "notice_being_sent_has_a_lease": changed(Notice, state="sending", attempt=1),
    "notice_not_sent_says_why": changed(Notice, state="failed"),
    "notice_reminder_of_a_day": changed(Notice, kind="reminder"),
    "notice_one_reminder_a_day": lambda here: [
        Notice.objects.create(
            request=one.request, appointment=one, kind="reminder", for_day=DAY, raised_at=NOW
        )
        for one in [Appointment.objects.all()[0]] * 2
    ],
    "notice_text_kind_known": changed(NoticeText, kind="hello"),
    "notice_text_once": doubled(NoticeText),
    "notice_text_says_something": changed(NoticeText, body=""),
    "exception_route_has_both_numbers": changed(ExceptionRoute, first_number="n-2"),
    "exception_route_asked_by_whom": changed(ExceptionRoute, asked_at=LATER),
}
