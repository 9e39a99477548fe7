"""The rows that somebody sees, one function a noun: what lies outside is as if it were not there.

Manager, auditor and administrator see every site. Coordinator and site lead see what belongs to
the sites that their login covers, and nothing where it covers none; a technician sees days with a
shift of their own and what is booked on them. Each function gives a queryset, to be narrowed
further; none of them asks the database by itself. Who is not signed in sees nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, TypeVar

from django.db.models import Exists, Model, OuterRef, Q, QuerySet

from sites.access.roles import Who, home_sites, sees_everywhere
from sites.models.account import Role, User
from sites.models.appointment import Appointment
from sites.models.care import CareWindow
from sites.models.notice import Notice, Supply
from sites.models.planrun import PlanRun
from sites.models.request import Request, RequestSite
from sites.models.session import Session
from sites.models.site import Site
from sites.models.station import Downtime, Scanner, ScannerPlacement, Station
from sites.models.subject import Subject
from sites.models.submission import Response, Submission
from sites.models.technician import Absence, Shift, Technician
from sites.models.waiting import Proposal, Waiting

Row = TypeVar("Row", bound=Model)


def scoped(user: Who, rows: QuerySet[Row]) -> tuple[QuerySet[Row], User | None]:
    """All rows and nobody to ask further, or no rows, or the login whose sites decide."""
    if sees_everywhere(user):
        return rows, None
    if not isinstance(user, User) or not user.is_active:
        return rows.none(), None
    return rows, user


def at_sites(user: Who, rows: QuerySet[Row], path: str) -> QuerySet[Row]:
    """Rows whose ``path`` leads to a site of somebody's."""
    rows, one = scoped(user, rows)
    return rows if one is None else rows.filter(**{f"{path}__in": home_sites(one).values("pk")})


def sites_visible(user: Who) -> QuerySet[Site]:
    """The sites in somebody's view."""
    return at_sites(user, Site.objects.all(), "pk")


def stations_visible(user: Who) -> QuerySet[Station]:
    """Stations of those sites."""
    return at_sites(user, Station.objects.all(), "site")


def scanners_visible(user: Who) -> QuerySet[Scanner]:
    """Scanners that stand or stood at those sites."""
    rows, one = scoped(user, Scanner.objects.all())
    if one is None:
        return rows
    there = ScannerPlacement.objects.filter(
        scanner=OuterRef("pk"), station__site__in=home_sites(one).values("pk")
    )
    return rows.filter(Exists(there))


def care_visible(user: Who) -> QuerySet[CareWindow]:
    """Care of stations of those sites."""
    return at_sites(user, CareWindow.objects.all(), "station__site")


def downtimes_visible(user: Who) -> QuerySet[Downtime]:
    """Downtimes of stations of those sites."""
    return at_sites(user, Downtime.objects.all(), "station__site")


def supplies_visible(user: Who) -> QuerySet[Supply]:
    """Supplies of those sites."""
    return at_sites(user, Supply.objects.all(), "site")


def shifts_visible(user: Who) -> QuerySet[Shift]:
    """Shifts at those sites; a technician's own ones only."""
    rows, one = scoped(user, Shift.objects.all())
    if one is not None and one.role == Role.TECHNICIAN:
        return rows.filter(technician__login=one)
    return at_sites(user, rows, "site")


def technicians_visible(user: Who) -> QuerySet[Technician]:
    """Who has one of those sites as home, or a shift there; a technician sees themself."""
    rows, one = scoped(user, Technician.objects.all())
    if one is None:
        return rows
    if one.role == Role.TECHNICIAN:
        return rows.filter(login=one)
    own = home_sites(one).values("pk")
    there = Shift.objects.filter(technician=OuterRef("pk"), site__in=own)
    return rows.filter(Q(home__in=own) | Exists(there))


def absences_visible(user: Who) -> QuerySet[Absence]:
    """Absences of those technicians."""
    rows, one = scoped(user, Absence.objects.all())
    return rows if one is None else rows.filter(technician__in=technicians_visible(one))


def appointments_visible(user: Who) -> QuerySet[Appointment]:
    """Appointments at those sites; for a technician those of own days and own bookings."""
    rows, one = scoped(user, Appointment.objects.all())
    if one is None:
        return rows
    if one.role != Role.TECHNICIAN:
        return rows.filter(station__site__in=home_sites(one).values("pk"))
    mine = Shift.objects.filter(
        technician__login=one, site=OuterRef("station__site"), day=OuterRef("day")
    )
    return rows.filter(Q(technician__login=one) | Exists(mine))


def requests_visible(user: Who) -> QuerySet[Request]:
    """Requests that could go to those sites, or are or were booked there.

    A request without any site belongs to nobody's: only roles that see everywhere find it.
    """
    rows, one = scoped(user, Request.objects.all())
    if one is None:
        return rows
    booked = Exists(appointments_visible(one).filter(request=OuterRef("pk")))
    if one.role == Role.TECHNICIAN:
        return rows.filter(booked)
    there = RequestSite.objects.filter(
        request=OuterRef("pk"), site__in=home_sites(one).values("pk")
    )
    return rows.filter(Q(Exists(there)) | Q(booked))


def subjects_visible(user: Who) -> QuerySet[Subject]:
    """Whoever has such a request. Which of their fields may be shown says `personal`."""
    return of(user, Subject.objects.all(), requests_visible, "requests")


def sessions_visible(user: Who) -> QuerySet[Session]:
    """Sessions of such appointments."""
    return of(user, Session.objects.all(), appointments_visible, "appointment")


def waits_visible(user: Who) -> QuerySet[Waiting]:
    """Places of such requests on the waiting list."""
    return of(user, Waiting.objects.all(), requests_visible, "request")


def proposals_visible(user: Who) -> QuerySet[Proposal]:
    """Times at those sites that were put to who waits."""
    return at_sites(user, Proposal.objects.all(), "station__site")


def submissions_visible(user: Who) -> QuerySet[Submission]:
    """Sets that were captured in such sessions."""
    return of(user, Submission.objects.all(), appointments_visible, "session__appointment")


def responses_visible(user: Who) -> QuerySet[Response]:
    """What came back for such sets."""
    path = "submission__session__appointment"
    return of(user, Response.objects.all(), appointments_visible, path)


def notices_visible(user: Who) -> QuerySet[Notice]:
    """Notices about such requests."""
    return of(user, Notice.objects.all(), requests_visible, "request")


def plan_runs_visible(user: Who) -> QuerySet[PlanRun]:
    """Planning runs over nothing but those sites: a plan is accepted for all its sites or none.

    A run that names no site is over all of them. Technicians see no run.
    """
    rows, one = scoped(user, PlanRun.objects.all())
    if one is None:
        return rows
    if one.role == Role.TECHNICIAN:
        return rows.none()
    own = home_sites(one).values("pk")
    places = PlanRun.sites.through.objects.filter(planrun=OuterRef("pk"))
    elsewhere = Exists(places.exclude(site__in=own))
    if Site.objects.exclude(pk__in=own).exists():
        return rows.filter(Exists(places), ~elsewhere)
    return rows


def of(user: Who, rows: QuerySet[Row], visible: Any, path: str) -> QuerySet[Row]:
    """Rows whose ``path`` leads to a visible row of another noun."""
    rows, one = scoped(user, rows)
    return rows if one is None else rows.filter(**{f"{path}__in": visible(one).values("pk")})


def days_visible(
    user: Who, *, sites: Iterable[Site], first: date, last: date
) -> set[tuple[int, date]] | None:
    """The days that a technician sees, as (site's key, day), in one query; None: every day."""
    if not isinstance(user, User) or sees_everywhere(user) or user.role != Role.TECHNICIAN:
        return None
    within = {"day__gte": first, "day__lte": last}
    mine = Shift.objects.filter(technician__login=user, site__in=list(sites), **within)
    booked = Appointment.objects.filter(
        technician__login=user, station__site__in=list(sites), **within
    )
    return set(
        mine.order_by()
        .values_list("site", "day")
        .union(booked.order_by().values_list("station__site", "day"))
    )
