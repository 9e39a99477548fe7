"""Notices by state, and what a person has to see to first."""

from __future__ import annotations

from typing import Any

from django.db.models import Case, Count, IntegerField, OuterRef, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from sites.models import Notice, NoticeState

FIRST = (
    NoticeState.UNSURE,
    NoticeState.FAILED,
    NoticeState.PHONE,
    NoticeState.SENDING,
    NoticeState.WAITING,
    NoticeState.SENT,
    NoticeState.TOLD,
    NoticeState.OVERTAKEN,
)
"""The order of the list: what nobody but a person can settle comes first."""


def notices_by_state(*, notices: QuerySet[Notice]) -> dict[NoticeState, int]:
    """How many of these notices are at each state, in one query."""
    rows = notices.order_by().values_list("state").annotate(count=Count("pk"))
    counts = dict(rows)
    return {state: counts[state.value] for state in FIRST if counts.get(state.value)}


def numbered(notices: QuerySet[Notice]) -> QuerySet[Any]:
    """Notices with ``number``, counted from 1 within their request; none is ever taken away."""
    before = Notice.objects.filter(request=OuterRef("request"), pk__lte=OuterRef("pk"))
    counts = before.order_by().values("request").annotate(count=Count("pk")).values("count")
    return notices.annotate(number=Coalesce(Subquery(counts), 1))


def notices_listed(*, notices: QuerySet[Notice], states: list[NoticeState]) -> QuerySet[Any]:
    """Those at these states, what has to be seen to first, the oldest first among them."""
    rank = Case(
        *(When(state=state, then=Value(place)) for place, state in enumerate(FIRST)),
        output_field=IntegerField(),
    )
    return (
        numbered(notices.filter(state__in=states))
        .select_related(
            "request__subject", "request__terms__programme", "appointment__station__site", "told_by"
        )
        .order_by(rank, "raised_at", "pk")
    )
