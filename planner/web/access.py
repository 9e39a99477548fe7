"""The edge of who may do what: pages and views name a rule of `sites.access`, and it is asked here.

A page is a `Page` with its ``rule``; a view that is a function is wrapped in `asks`; what is open
to everybody says so with `public`. A test walks all addresses and refuses a view with none of them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from sites.access import ensure, sites_visible
from sites.models import Role, Site, User

View = Callable[..., HttpResponseBase]

HOME = {
    Role.COORDINATOR: "requests",
    Role.SITE_LEAD: "days",
    Role.MANAGER: "capacity",
    Role.TECHNICIAN: "days",
    Role.AUDITOR: "capacity",
    Role.ADMINISTRATOR: "set-up",
}
"""The place that each role starts at."""

SAFE = ("GET", "HEAD", "OPTIONS")


def to_the_door(request: HttpRequest) -> HttpResponseBase:
    """The sign-in page, which leads back; where a fragment was asked for, it is loaded whole."""
    htmx = getattr(request, "htmx", None)
    if htmx:
        here = htmx.current_url_abs_path or request.path
        return HttpResponse(headers={"HX-Redirect": redirect_to_login(here)["Location"]})
    return redirect_to_login(request.get_full_path())


class Asks:
    """A view for people who are signed in and may do what its ``rule`` names.

    ``rule_to_write`` is asked for besides where the method is not a safe one.
    """

    rule = ""
    rule_to_write = ""
    request: HttpRequest

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """To the door who is not signed in; a sentence for who may not."""
        if not request.user.is_authenticated:
            return to_the_door(request)
        ensure(request.user, self.rule)
        if self.rule_to_write and request.method not in SAFE:
            ensure(request.user, self.rule_to_write)
        return super().dispatch(request, *args, **kwargs)  # type: ignore[misc,no-any-return]

    @property
    def user(self) -> User:
        """Whoever looks."""
        user = self.request.user
        assert isinstance(user, User)  # noqa: S101 - dispatch has turned everybody else away
        return user

    def sites(self) -> list[Site]:
        """The sites in view."""
        return list(sites_visible(self.user))

    def site(self, code: str) -> Site:
        """A site in view. Raises Http404 where it is not there or not theirs: the same answer."""
        return get_object_or_404(sites_visible(self.user), code=code)


class Page(Asks, TemplateView):
    """A page; ``fragment`` answers htmx from the same context."""

    fragment = ""
    place = ""

    def get_template_names(self) -> list[str]:
        """The fragment where only it is asked for, the page for a browser and its history."""
        htmx = getattr(self.request, "htmx", None)
        if self.fragment and htmx and not htmx.history_restore_request:
            return [self.fragment]
        return super().get_template_names()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The place that the frame marks."""
        return super().get_context_data(place=self.place, **kwargs)

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> Any:
        """Say that the answer depends on who asks: caches keep fragments and pages apart."""
        response = super().render_to_response(context, **kwargs)
        if self.fragment:
            response["Vary"] = "HX-Request"
        return response


def asks(name: str) -> Callable[[View], View]:
    """A view that is a function, for people who are signed in and may do what a rule names."""

    def wrap(view: View) -> View:
        @wraps(view)
        def asked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return to_the_door(request)
            ensure(request.user, name)
            return view(request, *args, **kwargs)

        asked.rule = name  # type: ignore[attr-defined]
        return asked

    return wrap


def public(why: str) -> Callable[[View], View]:
    """A view that is open to everybody, and the reason."""

    def wrap(view: View) -> View:
        view.public = why  # type: ignore[attr-defined]
        return view

    return wrap


def home_of(user: User) -> str:
    """The URL name of the place where somebody starts."""
    return HOME.get(Role(user.role), "days")
