"""The doors: waiting after wrong passwords, letting somebody in, changing one's password."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
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
    """A name that has to wait."""

    username: str
    failures: int
    last: datetime
    addresses: list[str]


def waiting() -> list[Waiting]:
    """Names with too many wrong passwords, the latest first."""
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    found: dict[str, list[Any]] = {}
    for row in AccessAttempt.objects.filter(attempt_time__gte=since).order_by("-attempt_time"):
        found.setdefault(row.username or "", []).append(row)
    lines = [
        Waiting(
            name,
            sum(row.failures_since_start for row in rows),
            rows[0].attempt_time,
            sorted({str(row.ip_address) for row in rows}),
        )
        for name, rows in found.items()
    ]
    return [line for line in lines if line.failures >= settings.AXES_FAILURE_LIMIT]


class LockedPage(Page):
    """Who has to wait after wrong passwords, and letting them in."""

    rule = "logins.change"
    template_name = "web/locked.html"
    place = "set-up"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The names, and the limits that hold."""
        return super().get_context_data(
            rows=waiting(), limit=settings.AXES_FAILURE_LIMIT, minutes=wait_minutes(), **kwargs
        )

    def post(self, request: HttpRequest) -> HttpResponse:
        """Forget the wrong passwords of a name."""
        name = request.POST.get("username", "")
        if name and reset(username=name):
            messages.success(request, f"{name} can sign in again.")
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
