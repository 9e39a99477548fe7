"""The way in, the set-up place and the error pages."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from planner.web.access import Page, asks, home_of
from sites.audit.actor import request_id
from sites.models import User

KINDS = (
    ("Programmes and their promises", ("programme", "programmeversion", "threshold")),
    ("Sites and hours", ("site", "openinghours", "specialhours", "closure", "reserve")),
    ("Stations and scanners", ("station", "scanner", "scannerplacement", "feature")),
    ("Care rules", ("carerule",)),
    ("Kinds of session", ("profile", "profilecapture", "skill")),
    ("People and their work", ("technician", "certification", "shift", "absence")),
    ("Logins", ("user",)),
)


@asks("frame.see")
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The place that the person's role starts at."""
    user = request.user
    return redirect(home_of(user) if isinstance(user, User) else "days")


class SetUpPage(Page):
    """What can be set up, and who may."""

    rule = "setup.see"
    template_name = "web/set_up.html"
    place = "set-up"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The kinds of thing, each with its models' names."""
        config = apps.get_app_config("record")
        kinds = [
            (words, [(name, config.get_model(name)._meta.verbose_name_plural) for name in names])
            for words, names in KINDS
        ]
        return super().get_context_data(kinds=kinds, demo=settings.DEMO, **kwargs)


def bad(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400: an address or a form that no browser of ours sends."""
    return render(None, "web/400.html", status=400)


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: not for this person; the exception's sentence says why."""
    return render(request, "web/403.html", {"why": f"{exception or ''}"}, status=403)


def missing(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: there is no such page, or no such thing."""
    said = exception.args[0] if exception and exception.args else ""
    why = said if isinstance(said, str) and said.endswith(".") else ""
    return render(request, "web/404.html", {"why": why}, status=404)


def failed(request: HttpRequest) -> HttpResponse:
    """500: our fault; the page needs no database."""
    return render(None, "web/500.html", {"request_id": request_id()}, status=500)


def stale(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was sent from somewhere else, or too late."""
    why = "The form was too old or came from another page. Open it again and send it once more."
    return render(request, "web/403.html", {"why": why}, status=403)
