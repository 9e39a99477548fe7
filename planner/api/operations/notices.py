"""Notices to subjects: what has to be seen to, one as it is read, told by a person, sent again."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from rest_framework.response import Response

from planner.api.files import Ics
from planner.api.filters import Filters, Named, OneOf, Yes
from planner.api.find import one
from planner.api.operation import Act, Listing, Operation, Read, Unkept
from planner.api.pages import Orders
from planner.api.shapes import notices as shapes
from planner.gateway.present import now
from sites.access import notices_visible, person_shown
from sites.models import TO_DO, NoticeKind, NoticeState, User
from sites.notices.shown import calendar_shown, letter_shown
from sites.services.notices import notice_again, notice_told, notices_again


def notices(user: User) -> QuerySet[Any]:
    """Notices with what is shown of them, and what their letters need."""
    return notices_visible(user).select_related(
        "request__subject", "request__terms__programme", "appointment__station__site", "told_by"
    )


class NoticeFilters(Filters):
    """Notices by how far they are, kind and request."""

    state = OneOf(NoticeState.values, label="How far it is.")
    kind = OneOf(NoticeKind.values, label="What it says.")
    request = Named(field_name="request__reference", label="Reference of the request.")
    to_do = Yes(method="by_to_do", label="Whether a person has to see to it.")

    def by_to_do(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Those that wait for a person, or the others."""
        return rows.filter(state__in=TO_DO) if value else rows.exclude(state__in=TO_DO)


class NoticesList(Listing):
    """The notices about requests in your view, the oldest first. They carry no names."""

    rule, tag, gives, filters = "notices.see", "notices", shapes.NoticeShape, NoticeFilters
    orders: ClassVar[Orders] = {"raised": ("raised_at", "pk"), "-raised": ("-raised_at", "-pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Notices."""
        return notices(user)


class NoticeRead(Read):
    """A notice."""

    rule, tag, gives = "notices.see", "notices", shapes.NoticeShape

    def find(self, user: User, **path: Any) -> Any:
        """By its number here."""
        return one(notices(user), "notice", pk=path["notice"])


class NoticeLetter(Unkept, Read):
    """A notice as its subject reads it, as things stand; the name only for who may see it."""

    rule, tag, gives = "notices.see", "notices", shapes.LetterShape

    def find(self, user: User, **path: Any) -> Any:
        """The letter."""
        found = one(notices(user), "notice", pk=path["notice"])
        person = person_shown(user=user, request=found.request, now=now())
        return letter_shown(found, named=bool(person.name))


class NoticeCalendar(Unkept, Operation):
    """The calendar file of a notice (RFC 5545), without anybody's address."""

    method, rule, tag = "GET", "notices.see", "notices"
    renderer_classes = (Ics,)
    gives: ClassVar[Any] = {"type": "string", "format": "binary"}

    def get(self, request: Any, **path: Any) -> Response:
        """The file. Raises Http404 where the notice speaks of no appointment."""
        found = one(notices(request.user), "notice", pk=path["notice"])
        file = calendar_shown(found, at=now())
        if file is None:
            raise Http404("This notice has no calendar file.")
        answer = Response(file)
        answer["Content-Disposition"] = 'attachment; filename="appointment.ics"'
        return answer


class OnNotice(Act):
    """Something that is done about a notice."""

    rule, tag, gives, on, status = (
        "notices.change",
        "notices",
        shapes.NoticeShape,
        NoticeRead,
        200,
    )
    refuses = ("step_refused",)


class NoticeTold(OnNotice):
    """Keep that you told the subject, by phone or face to face."""

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep by whom and when."""
        notice_told(notice=thing, by=self.request.user, at=now())
        return one(notices(self.request.user), "notice", pk=thing.pk)


class NoticeAgain(OnNotice):
    """Let a notice that was not sent, or perhaps was, be sent (again).

    It leaves under the same Message-ID, so that a receiver who has it can drop the double.
    """

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """It waits to be sent."""
        notice_again(notice=thing)
        return one(notices(self.request.user), "notice", pk=thing.pk)


class NoticesAgain(Act):
    """Let every notice that failed be sent again, the oldest 2,000 at once."""

    rule, tag, gives, status = "notices.change", "notices", shapes.AgainShape, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """How many wait."""
        return {"waiting": notices_again(notices=notices_visible(self.request.user))}
