"""Requests: received, asked for again as rework, closed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.utils import timezone

from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    ACTIVE,
    Feature,
    Profile,
    Programme,
    Request,
    RequestSite,
    Response,
    ResponseKind,
    Site,
    Skill,
    Subject,
)
from sites.selectors.terms import terms_on
from sites.selectors.travel import travel_minutes
from sites.services.write import written

ACCESSIBLE = "accessible"  # the feature that a subject's access need asks a station for


@written
def request_receive(
    *,
    programme: Programme,
    subject: Subject,
    profile: Profile,
    reference: str,
    received: date,
    sites: Iterable[Site],
    release: date | None = None,
    due: date | None = None,
    control_number: str = "",
    priority: float = 1.0,
) -> Request:
    """Take a request in, under the terms of the day it was received."""
    if Request.objects.filter(reference=reference).exists():
        raise BadValue(reference, "is the reference of another request", "give its own")
    terms = terms_on(programme=programme, day=received)
    release, due = release or received, due or received + timedelta(days=terms.due_days)
    expires = received + timedelta(days=max(terms.validity_days, terms.due_days))
    if not release <= due <= expires:
        raise BadValue(
            f"due {due}",
            f"is not between the release {release} and the expiry {expires}",
            "choose a due date between them",
        )
    request = Request.objects.create(
        reference=reference,
        subject=subject,
        terms=terms,
        profile=profile,
        control_number=control_number,
        received=received,
        release=release,
        due=due,
        expires=expires,
        priority=priority,
    )
    if subject.needs_access:
        request.features.add(Feature.objects.get_or_create(code=ACCESSIBLE)[0])
    sites_set(request, sites)
    return request


def sites_set(request: Request, sites: Iterable[Site]) -> None:
    """Let sites take the request, with the travel from the subject's area (0 where unknown)."""
    area = request.subject.home_area
    given = {}
    if area is not None:
        given = {(row.area_id, row.site_id): row.minutes for row in area.travel_times.all()}
    RequestSite.objects.bulk_create(
        RequestSite(
            request=request,
            site=site,
            travel=(travel_minutes(area=area, site=site, given=given) or 0) if area else 0,
        )
        for site in sites
    )


@written
def request_rework(
    *,
    response: Response,
    reference: str,
    today: date,
    profile: Profile | None = None,
    release: date | None = None,
    due: date | None = None,
    skills: Iterable[Skill] | None = None,
    sites: Iterable[Site] | None = None,
    advice: str = "",
) -> Request:
    """Ask for the session that an image return makes necessary, under the same terms.

    What is not given stays as it was; ``release`` is the first day to book, such as after days of
    hand care. Raises StepRefused, ChangedMeanwhile or BadValue.
    """
    returned = response.submission.request
    if response.kind != ResponseKind.IMAGE:
        raise StepRefused(
            str(response), "does not ask the subject to come again", "correct it at the desk"
        )
    if returned.reworks.exists():
        raise ChangedMeanwhile(returned.reference, "has its rework already", "look at that request")
    if returned.closed_at is not None:
        raise StepRefused(returned.reference, "is closed", "nobody has to come again")
    if Request.objects.filter(reference=reference).exists():
        raise BadValue(reference, "is the reference of another request", "give its own")
    terms = returned.terms
    due = due or today + timedelta(days=terms.rework_days)
    release = release or today
    if release > due:
        raise BadValue(
            f"{release}", f"lies after the due date {due}", "book earlier, or agree on a later one"
        )
    places = list(sites) if sites is not None else sites_of(returned)
    if sites is not None and not places:
        raise BadValue("no site", "can take the session", "name at least one")
    request = Request.objects.create(
        reference=reference,
        subject=returned.subject,
        terms=terms,
        profile=profile or returned.profile,
        received=today,
        release=release,
        due=due,
        expires=max(due, returned.expires) if returned.expires else None,
        priority=returned.priority,
        rework=True,
        rework_of=returned,
        resubmissions=returned.resubmissions + 1,
        advice=advice,
    )
    request.features.set(returned.features.all())
    request.skills.set(returned.skills.all() if skills is None else list(skills))
    sites_set(request, places)
    return request


def sites_of(request: Request) -> list[Site]:
    """The sites that can take a request."""
    return [row.site for row in request.at_sites.select_related("site")]


@written
def request_close(*, request: Request, why: str, at: datetime | None = None) -> Request:
    """End a need without an accepted set; its appointment must be cancelled first."""
    if not why.strip():
        raise BadValue(request.reference, "is closed without a reason", "say why")
    if request.appointments.filter(step__in=ACTIVE).exists():
        raise StepRefused(request.reference, "has an appointment", "cancel the appointment first")
    count = Request.objects.filter(pk=request.pk, closed_at__isnull=True).update(
        closed_at=at or timezone.now(), closed_why=why
    )
    if count != 1:
        raise ChangedMeanwhile(request.reference, "is closed already", "read it again")
    request.refresh_from_db()
    return request
