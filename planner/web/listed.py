"""The requests that filters show, in their order: for the list, its file, and acts on many."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.http import QueryDict

from planner.web.filters import Filters
from sites.models import User
from sites.selectors.chance import Pace, pace
from sites.selectors.ranking import Ranking, requests_ranked


@dataclass(frozen=True, slots=True)
class Listed:
    """What is shown: filters that were read, the ranking, and what its chances rest on."""

    filters: Filters
    ranking: Ranking
    pace: Pace
    sort: str


def listed(query: QueryDict, *, user: User, today: date) -> Listed:
    """Rank what a query shows of what somebody may see."""
    filters = Filters(query, user=user)
    filters.is_valid()
    how_long = pace(today=today)
    sort = filters.value("sort") or "slack"
    ranking = requests_ranked(
        rows=filters.rows(today), stands=filters.stands(), order=sort, today=today, pace=how_long
    )
    return Listed(filters, ranking, how_long, sort)
