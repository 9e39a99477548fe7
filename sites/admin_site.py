"""The door of Django's admin: for administrators, through our own sign-in."""

from __future__ import annotations

from typing import Any

from django.contrib.admin import AdminSite
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse

from sites.access import ensure, may


class Tables(AdminSite):
    """The tables of the record, for whoever may open them; the rows in it are not scoped."""

    site_title = site_header = "Platen: tables of the record"

    def has_permission(self, request: HttpRequest) -> bool:
        """Ask the one table of rules, not Django's staff flag."""
        return may(request.user, "tables.change")

    def login(
        self, request: HttpRequest, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        """Sign in where everybody does; who is signed in and may not is told so."""
        if request.user.is_authenticated:
            ensure(request.user, "tables.change")
        return redirect_to_login(request.GET.get("next") or request.path.removesuffix("login/"))
