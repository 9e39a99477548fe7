"""Which requests are on hold on a day."""

from __future__ import annotations

from datetime import date

from django.db.models import Q

from sites.models import Hold, Request


def in_force(today: date) -> Q:
    """The condition on a hold that it holds on a day: not released, and its last day not over."""
    return Q(released_at__isnull=True) & (Q(until__isnull=True) | Q(until__gt=today))


def hold_of(*, request: Request, today: date) -> Hold | None:
    """The hold that a request is under, None where it is under none."""
    return request.holds.filter(in_force(today)).select_related("by").first()
