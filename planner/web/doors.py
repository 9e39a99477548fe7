"""The doors: waiting after wrong passwords, letting somebody in, changing one's password."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from axes.models import AccessAttempt
from axes.utils import reset
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import PasswordChangeView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone

from planner.web.access import Asks, Page
from planner.web.throttle import ADDRESS_SHARE
from sites.models import User


def wait_minutes() -> int:
    """How long somebody waits after too many wrong passwords."""
    return int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)


def locked(request: HttpRequest, *_: Any) -> HttpResponse:
    """429: too many wrong passwords; the same words whether or not there is such a login."""
    minutes = wait_minutes()
    answer = render(request, "web/wait.html", {"minutes": minutes}, status=429)
    answer["Retry-After"] = str(60 * minutes)
    return answer


@dataclass(frozen=True, slots=True)
class Waiting:
    """A name, or an address, that has to wait; ``others`` are where from, or who was tried."""

    who: str
    failures: int
    last: datetime
    others: list[str]


def waiting() -> tuple[list[Waiting], list[Waiting]]:
    """Names and addresses with too many wrong passwords, the latest first."""
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    names: dict[str, list[Any]] = {}
    addresses: dict[str, list[Any]] = {}
    for row in AccessAttempt.objects.filter(attempt_time__gte=since).order_by("-attempt_time"):
        names.setdefault(row.username or "", []).append(row)
        addresses.setdefault(row.ip_address or "", []).append(row)
    logins = set(User.objects.filter(username__in=names).values_list("username", flat=True))
    most = settings.AXES_FAILURE_LIMIT
    return (
        lines(names, most, lambda tries: sorted({f"{row.ip_address}" for row in tries})),
        lines(addresses, most * ADDRESS_SHARE, partial(names_tried, logins)),
    )


def names_tried(logins: set[str], tries: list[Any]) -> list[str]:
    """Logins that were tried, and how many other names: a password may be among these."""
    names = {row.username for row in tries}
    known = sorted(names & logins)
    others = len(names) - len(known)
    return [*known, f"{others} that are no login"] if others else known


def lines(
    found: dict[str, list[Any]], most: int, others: Callable[[list[Any]], list[str]]
) -> list[Waiting]:
    """Those that have so many wrong passwords."""
    rows = [
        Waiting(
            who,
            sum(row.failures_since_start for row in tries),
            tries[0].attempt_time,
            others(tries),
        )
        for who, tries in found.items()
        if who
    ]
    return [row for row in rows if row.failures >= most]


class LockedPage(Page):
    """Who has to wait after wrong passwords, by name and by address, and letting them in."""

    rule = "logins.change"
    template_name = "web/locked.html"
    place = "set-up"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The names and addresses, and the limits that hold."""
        names, addresses = waiting()
        limit = settings.AXES_FAILURE_LIMIT
        return super().get_context_data(
            names=names,
            addresses=addresses,
            limit=limit,
            limit_address=limit * ADDRESS_SHARE,
            minutes=wait_minutes(),
            **kwargs,
        )

    def post(self, request: HttpRequest) -> HttpResponse:
        """Forget the wrong passwords of a name, or those that came from an address."""
        name, address = (request.POST.get(each, "") for each in ("username", "address"))
        if name and reset(username=name):
            messages.success(request, f"{name} can sign in again.")
        elif address and reset(ip=address):
            messages.success(request, f"Sign-ins from {address} are let in again.")
        elif name or address:
            messages.success(request, f"{name or address} does not have to wait any more.")
        return redirect("locked")


class PasswordPage(Asks, PasswordChangeView):
    """One's own password; every other sign-in of the same login ends with it."""

    rule = "own.change"
    template_name = "web/password.html"
    success_url = reverse_lazy("password")

    def form_valid(self, form: Any) -> HttpResponse:
        """Change it: other sessions carry the old password's mark, and are nobody's from now on."""
        messages.success(self.request, "Your password is changed, and other sign-ins have ended.")
        return super().form_valid(form)
