"""The queue of returns: what each still asks for, many at once, sets sent again, exceptions."""

from __future__ import annotations

import csv
import io
from collections import Counter
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from rest_framework import serializers

from planner.api.filters import Filters, Named, OneOf, Yes
from planner.api.find import one
from planner.api.operation import Act, Listing, Read
from planner.api.operations.returns import ResponseRead, responses
from planner.api.pages import Orders
from planner.api.shapes import returns as shapes
from planner.gateway.present import now, today, today_at
from sites.access import (
    requests_visible,
    responses_visible,
    sessions_visible,
    submissions_visible,
)
from sites.models import ExceptionRoute, ResponseKind, Submission, User
from sites.selectors.advice import rework_advice
from sites.selectors.returns import (
    AGES,
    Todo,
    returns_aged,
    returns_by_age,
    returns_todo,
    returns_waiting,
    routes_open,
    sessions_unsent,
)
from sites.selectors.returns_file import COLUMNS, RowFault, responses_read
from sites.services.exceptions import exception_ask
from sites.services.returns import response_fixed, responses_mark_read, responses_register

FIELDS = dict(zip(COLUMNS, ("control_number", "kind", "code", "day"), strict=True))


class ReturnFilters(Filters):
    """Returns by what they ask for, and for how long."""

    step = OneOf([key for key, _ in shapes.STEPS], field_name="todo", label="What is next.")
    age = OneOf(shapes.BANDS, method="by_age", label="Working days since the response came.")
    kind = OneOf(ResponseKind.values, label="What came back.")
    request = Named(field_name="submission__request__reference", label="Reference of the request.")

    def by_age(self, rows: QuerySet[Any], _: str, value: str) -> QuerySet[Any]:
        """Those of a band."""
        return returns_aged(rows=rows, band=value, today=today())


class ReturnsList(Listing):
    """The queue of returns: those that still ask the desk for something, the oldest first.

    Unread ones are read every working day, and subjects of image returns are contacted. Data and
    transmission returns take no station time: the same set is corrected or sent again.
    """

    rule, tag, gives, filters = "returns.see", "returns", shapes.ReturnShape, ReturnFilters
    orders: ClassVar[Orders] = {"received": ("received_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Returns that wait."""
        rows = returns_todo(responses=responses_visible(user)).exclude(todo=Todo.DONE)
        return rows.select_related("submission__request")


class ReturnsAges(Read):
    """How many returns wait for what, and for how many working days."""

    rule, tag, gives = "returns.see", "returns", shapes.AgesShape

    def find(self, user: User, **path: Any) -> Any:
        """The ageing table."""
        rows = returns_todo(responses=responses_visible(user))
        table = returns_by_age(returns_waiting(rows=rows, today=today()))
        return {
            "steps": [
                {
                    "step": todo,
                    "count": sum(counts.values()),
                    "ages": [{"age": band, "count": counts[band]} for band, _, _ in AGES],
                }
                for todo, counts in table.items()
            ]
        }


class ReturnsRead(Act):
    """Keep that you read these responses, all of them or none; subjects of image returns are told.

    Those that somebody read before are left as they are.
    """

    rule, tag, takes, gives = "returns.change", "returns", shapes.ReadIn, shapes.ReadManyShape
    status = 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Mark them."""
        user, wanted = self.request.user, list(dict.fromkeys(values["control_numbers"]))
        rows = {
            each.submission.control_number: each
            for each in responses(user).filter(submission__control_number__in=wanted)
        }
        faults = {
            f"{place}": ["has no response among those that you see: check the number."]
            for place, number in enumerate(values["control_numbers"])
            if number not in rows
        }
        if faults:
            raise serializers.ValidationError({"control_numbers": faults})
        count = responses_mark_read(
            responses=[rows[number] for number in wanted], by=user, at=now()
        )
        return {"read": count}


class ReturnsUnsent(Listing):
    """Sessions whose complete set was not sent on; one is due within a working day."""

    rule, tag, gives = "returns.see", "returns", shapes.UnsentShape
    orders: ClassVar[Orders] = {"ended": ("ended_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Sessions."""
        return sessions_unsent(rows=sessions_visible(user))


class ResponsesImport(Act):
    """Register many responses, all of them or none.

    What the record has in the same words is left, so that a list can come twice. With `look`
    nothing is kept, and the answer says what would be. Every fault is named with its place.
    """

    rule, tag, takes, gives = (
        "returns.change",
        "returns",
        shapes.ResponsesIn,
        shapes.RegisteredShape,
    )
    status, rate = 200, "heavy"

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Read them as a file is read, then keep them."""
        sheet = responses_read(
            data=lines_of(values["responses"]),
            now=now(),
            submissions=submissions_visible(self.request.user),
        )
        if sheet.faults:
            raise serializers.ValidationError({"responses": faults_of(sheet.faults)})
        look = values.get("look", False)
        if not look:
            responses_register(rows=sheet.rows)
        counts = Counter(row.kind for row in sheet.rows)
        return {
            "looked": look,
            "registered": len(sheet.rows),
            "known": sheet.known,
            "kinds": [{"kind": kind, "count": count} for kind, count in sorted(counts.items())],
        }


def lines_of(rows: list[dict[str, Any]]) -> str:
    """The rows as the lines of a file, one each."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([" ".join(f"{row.get(name, '')}".split()) for name in FIELDS.values()])
    return out.getvalue()


def faults_of(faults: list[RowFault]) -> dict[str, dict[str, list[str]]]:
    """Faults by place of the row, from 0, and field; the first line holds the names."""
    found: dict[str, dict[str, list[str]]] = {}
    for each in faults:
        row = found.setdefault(f"{each.line - 2}", {})
        row.setdefault(FIELDS[each.column], []).append(f"{each.problem}: {each.remedy}.")
    return found


class ResponseAdvice(Read):
    """The session that should follow an image return, with the reasons.

    Figures are common practice or our defaults. Whoever asks for the session changes what does not
    suit: local codes, the programme's policy and licensed practice come first.
    """

    rule, tag, gives = "returns.see", "returns", shapes.AdviceShape

    def find(self, user: User, **path: Any) -> Any:
        """The recommendation."""
        rows = returns_todo(responses=responses_visible(user)).select_related(
            "submission__request__terms",
            "submission__request__profile",
            "submission__session__appointment__station__site",
        )
        found = one(rows, "return", pk=path["number"])
        free = found.kind == ResponseKind.IMAGE and not found.reworked
        if not free or found.submission.request.closed_at is not None:
            raise Http404("No session is asked for by this return, or not any more.")
        return rework_advice(response=found, today=today())


class ResponseSentAgain(Act):
    """Keep that a set returned for its data or its transmission was sent again; nobody has to come.

    The new submission carries the returned control number, once.
    """

    rule, tag, takes, gives = (
        "returns.change",
        "returns",
        shapes.SentAgainIn,
        shapes.SubmissionShape,
    )
    on, refuses = ResponseRead, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep it."""
        return response_fixed(response=thing, control_number=values["control_number"], at=now())


def routes(user: User) -> QuerySet[ExceptionRoute]:
    """Exception routes of the requests in view."""
    rows = ExceptionRoute.objects.filter(request__in=requests_visible(user))
    return rows.select_related("request", "asked_by")


class ExceptionFilters(Filters):
    """Routes by whether they are open."""

    open = Yes(method="by_open", label="Whether it can still be asked for, and nobody has.")

    def by_open(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Open or not."""
        open_ones = routes_open(today=today(), requests=requests_visible(self.request.user))
        keys = open_ones.order_by().values("pk")
        return rows.filter(pk__in=keys) if value else rows.exclude(pk__in=keys)


class ExceptionsList(Listing):
    """The exception routes that second image returns opened, by closing date.

    A plan, not a decision about a person: whether a check by name is asked for is decided by people
    under the programme's policy.
    """

    rule, tag, gives, filters = "returns.see", "returns", shapes.ExceptionShape, ExceptionFilters
    orders: ClassVar[Orders] = {"closes": ("closes_on", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Routes."""
        return routes(user)


class ExceptionRead(Read):
    """The exception route of a request, with both control numbers."""

    rule, tag, gives = "returns.see", "returns", shapes.ExceptionShape

    def find(self, user: User, **path: Any) -> Any:
        """By the request that was returned twice."""
        return one(routes(user), "exception route of", request__reference=path["reference"])


class ExceptionAsk(Act):
    """Keep that the check by name was asked for, with both control numbers.

    A plan, not a decision about a person: people decide under the programme's policy, which comes
    first. Not after the closing date.
    """

    rule, tag, gives, on = "returns.change", "returns", shapes.ExceptionShape, ExceptionRead
    status, refuses = 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep by whom and when; the date is that of the site of the second set."""
        user = self.request.user
        rows = Submission.objects.select_related("session__appointment__station__site")
        site = rows.filter(request=thing.request).latest("sent_at").session.appointment.station.site
        exception_ask(route=thing, by=user, today=today_at(site), at=now())
        return one(routes(user), "exception route of", pk=thing.pk)
