"""Addresses, and what is said where there is none or where something fails."""

from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest, HttpResponse
from django.urls import include, path

from planner.api import faults
from planner.web import other

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/v1/", include("planner.api.urls")),
    path("", include("planner.web.urls")),
]

handler400 = "planner.urls.bad"
handler403 = "planner.web.other.refused"
handler404 = "planner.web.other.missing"
handler500 = "planner.urls.failed"


def failed(request: HttpRequest) -> HttpResponse:
    """A fault of ours, as a page or as the API says it."""
    return faults.failed(request) if request.path.startswith(faults.HERE) else other.failed(request)


def bad(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that cannot be read, as a page or as the API says it."""
    if request.path.startswith(faults.HERE):
        return faults.bad(request)
    return other.bad(request, exception)
