"""Who may see and do what on the pages: the one place for it.

For now everybody who is signed in sees every page; what writes asks for a role.
"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.mixins import LoginRequiredMixin
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.views.generic import TemplateView

from sites.models import Role, Site, User

CLOSES_TIMES = (Role.SITE_LEAD, Role.COORDINATOR, Role.MANAGER)
HOME = {
    Role.COORDINATOR: "requests",
    Role.SITE_LEAD: "days",
    Role.MANAGER: "capacity",
    Role.TECHNICIAN: "days",
}
"""The place that each role starts at."""


class Page(LoginRequiredMixin, TemplateView):
    """A page for people who are signed in; ``fragment`` answers htmx from the same context."""

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


class CareWriter(Page):
    """A page that closes times: for roles that may displace a booking."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Refuse other roles with a sentence."""
        if request.user.is_authenticated and not may_close_times(request.user):
            raise PermissionDenied(
                "Setting care or a downtime is for a site lead, a coordinator or a manager."
            )
        return super().dispatch(request, *args, **kwargs)


def may_close_times(user: User | AnonymousUser) -> bool:
    """Whether somebody may set care or a downtime, and so displace bookings."""
    if not isinstance(user, User):
        return False
    return user.is_superuser or user.role in CLOSES_TIMES


def home_of(user: User) -> str:
    """The URL name of the place where somebody starts."""
    return HOME.get(Role(user.role), "days")


def sites_of(user: User) -> list[Site]:
    """The sites that somebody covers, all where none is named."""
    own = list(user.covers.all())
    return own or list(Site.objects.all())
