"""The waiting list: joined and left, served, and what is put to who waits answered."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, ClassVar

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.urls import reverse
from rest_framework.response import Response

from planner.api.filters import Filters, Named, On, Yes
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.operations.offers import places
from planner.api.operations.requests import RequestRead
from planner.api.pages import Orders
from planner.api.shapes import waiting as shapes
from planner.gateway.offers.take import active_of, ensure_here
from planner.gateway.offers.waiting import accept_proposal, day_served_when_kept, serve_waiting
from planner.gateway.present import now, today
from sites.access import proposals_visible, sites_visible, waits_visible
from sites.errors import ChangedMeanwhile, SlotTaken
from sites.models import Proposal, ProposalAnswer, Request, User, Waiting, WaitingEnd
from sites.models.waiting import HOURS_AHEAD
from sites.selectors.slack import requests_slack
from sites.selectors.waiting import waiting_of
from sites.services.waiting import proposal_answer, waiting_end, waiting_join


def proposals(user: User) -> QuerySet[Any]:
    """What was put to somebody at sites in view, with what is shown of it."""
    return proposals_visible(user).select_related(
        "station__site", "technician", "waiting__request", "appointment"
    )


def waits(user: User) -> QuerySet[Any]:
    """Who waits or waited, with the slack of their requests and what is put to them now."""
    slack = requests_slack(today=today(), requests=Request.objects.filter(pk=OuterRef("request")))
    put = Prefetch("proposals", proposals(user).filter(answer=""), to_attr="open_ones")
    return (
        waits_visible(user)
        .select_related("request", "site")
        .prefetch_related(put)
        .annotate(slack=Subquery(slack.order_by().values("slack")[:1]))
    )


class WaitingFilters(Filters):
    """Who waits by request, by place, and by whether something is put to them."""

    request = Named(field_name="request__reference", label="Reference of the request.")
    site = Named(field_name="site__code", label="Code of the site that alone would do.")
    proposed = Yes(method="by_proposed", label="Whether a time is put to it and not answered.")

    def by_proposed(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """With an open proposal or without one."""
        put = Proposal.objects.filter(answer="").values("waiting")
        return rows.filter(pk__in=put) if value else rows.exclude(pk__in=put)


class WaitingList(Listing):
    """Who waits for a time to come free, in the order in which one is put to them."""

    rule, tag, gives, filters = "waiting.see", "waiting", shapes.WaitingShape, WaitingFilters
    orders: ClassVar[Orders] = {"slack": ("slack", "since", "pk"), "since": ("since", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Those that wait still."""
        return waits(user).filter(ended_at=None)


class WaitingRead(Read):
    """A request's place on the waiting list."""

    rule, tag, gives = "waiting.see", "waiting", shapes.WaitingShape

    def find(self, user: User, **path: Any) -> Any:
        """By the request's reference."""
        rows = waits(user).filter(ended_at=None)
        return one(rows, "waiting request", request__reference=path["reference"])


def join(user: User, request: Request, values: dict[str, Any]) -> Any:
    """Put a request on the list, or change what would do."""
    ensure_here(user, active_of(request))
    code = values.get("site")
    made = waiting_join(
        request=request,
        by=user,
        hours_ahead=values.get("hours_ahead", HOURS_AHEAD),
        site=named(sites_visible(user), "site", "site", code) if code else None,
        first_day=values.get("first_day"),
        last_day=values.get("last_day"),
        part=values.get("part", ""),
        at=now(),
    )
    return one(waits(user), "waiting request", pk=made.pk)


class WaitingJoin(Act):
    """Put a request on the waiting list; one with an appointment waits for an earlier time.

    A time that comes free is put to one request at a time: the least slack first, then who has
    waited longest.
    """

    rule, tag, takes, gives = "bookings.change", "waiting", shapes.WaitIn, shapes.WaitingShape
    on = RequestRead

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Join."""
        if waiting_of(request=thing) is not None:
            raise ChangedMeanwhile(
                thing.reference, "is on the waiting list already", "change its place there"
            )
        return join(self.request.user, thing, values)

    def place(self, done: Any) -> str:
        """Where its place can be read."""
        return reverse("api:request-waiting", args=[done.request.reference])


class WaitingChange(Act):
    """Say anew which times would do; the place in the order stays."""

    rule, tag, takes, gives = "bookings.change", "waiting", shapes.WaitIn, shapes.WaitingShape
    on, status = WaitingRead, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Change it."""
        return join(self.request.user, thing.request, values)


class WaitingLeave(Act):
    """Take a request off the waiting list; what is put to it and not answered lapses."""

    rule, tag, gives = "bookings.change", "waiting", shapes.WaitingShape
    on, status = WaitingRead, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Leave."""
        user = self.request.user
        ensure_here(user, active_of(thing.request))
        waiting_end(
            waiting=Waiting.objects.select_related("request").get(pk=thing.pk),
            how=WaitingEnd.STOPPED,
            by=user,
            at=now(),
        )
        return one(waits(user), "waiting request", pk=thing.pk)


class WaitingServe(Act):
    """Look for free times for who waits, at the sites in your view, and put them to who is next.

    Where a programme allows it, who is next is booked at once; else somebody confirms. Done twice
    it does nothing the second time, unless more came free.
    """

    rule, tag, gives = "bookings.change", "waiting", shapes.ServedManyShape
    rate, status = "heavy", 200
    refuses = ("does_not_fit", "slot_taken", "step_refused", "already_booked")

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Look."""
        user = self.request.user
        return {"served": serve_waiting(now=now(), sites=places(user))}


class ProposalFilters(Filters):
    """What was put to whom, by request, place, day and answer."""

    request = Named(field_name="waiting__request__reference", label="Reference of the request.")
    site = Named(field_name="station__site__code", label="Code of the site.")
    open = Yes(method="by_open", label="Whether nobody answered it yet.")
    day_from = On(field_name="day", lookup_expr="gte", label="On this day or later.")
    day_to = On(field_name="day", lookup_expr="lte", label="On this day or before.")

    def by_open(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Open or not."""
        return rows.filter(answer="") if value else rows.exclude(answer="")


class ProposalsList(Listing):
    """The times that were put to requests on the waiting list, and what became of them."""

    rule, tag, gives, filters = "waiting.see", "waiting", shapes.ProposalShape, ProposalFilters
    orders: ClassVar[Orders] = {"-made": ("-made_at", "-pk"), "made": ("made_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Proposals."""
        return proposals(user)


class ProposalRead(Read):
    """A time that was put to a request on the waiting list."""

    rule, tag, gives = "waiting.see", "waiting", shapes.ProposalShape

    def find(self, user: User, **path: Any) -> Any:
        """By its number."""
        return one(proposals(user), "proposal", pk=path["proposal"])


class ProposalAccept(Act):
    """The person takes the time: book them, or move their appointment there.

    Where it went to somebody else meanwhile the answer is 409, the proposal lapses, and the
    request goes on waiting.
    """

    rule, tag, gives = "bookings.change", "waiting", shapes.ProposalShape
    on, status, rate = ProposalRead, 200, "heavy"
    refuses = ("does_not_fit", "slot_taken", "step_refused", "already_booked")

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Book or move."""
        user = self.request.user
        accept_proposal(thing, by=user, now=now(), sites=places(user))
        return one(proposals(user), "proposal", pk=thing.pk)

    def post(self, request: Any, **path: Any) -> Response:
        """Book or move; that the time was gone is kept, though nothing else is."""
        try:
            return super().post(request, **path)
        except SlotTaken:
            gone = one(proposals(request.user), "proposal", pk=path["proposal"])
            with suppress(ChangedMeanwhile):
                proposal_answer(
                    proposal=gone, answer=ProposalAnswer.LAPSED, by=request.user, at=now()
                )
            raise


class ProposalDecline(Act):
    """The person does not take the time, and goes on waiting; it is put to who is next."""

    rule, tag, gives = "bookings.change", "waiting", shapes.ProposalShape
    on, status = ProposalRead, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep the answer."""
        user, at = self.request.user, now()
        proposal_answer(proposal=thing, answer=ProposalAnswer.DECLINED, by=user, at=at)
        day_served_when_kept(thing.station.site, thing.day, now=at)
        return one(proposals(user), "proposal", pk=thing.pk)
