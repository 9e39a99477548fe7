"""How many calls somebody may make: by person and kind of operation, set by the environment."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from rest_framework.throttling import SimpleRateThrottle


class PerPerson(SimpleRateThrottle):
    """`API_RATES` of the operation's kind, for each person, however many tokens they have.

    Counted in the cache: with several server processes each counts for itself, unless they share
    one.
    """

    def __init__(self) -> None:
        """Nothing: the rate is known once the operation is."""

    def allow_request(self, request: Any, view: Any) -> bool:
        """Whether this call is within the rate."""
        self.scope = view.rate
        self.num_requests, self.duration = self.parse_rate(settings.API_RATES[self.scope])
        self.rate = settings.API_RATES[self.scope]
        return bool(super().allow_request(request, view))

    def get_cache_key(self, request: Any, view: Any) -> str:
        """One count for each person and kind."""
        return f"api-{self.scope}-{request.user.pk}"
