"""Addresses with one that always fails, to see the error page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import include, path


def broken(request: HttpRequest) -> HttpResponse:
    """Fail as a fault of ours would."""
    return HttpResponse(str(1 // 0))


urlpatterns = [path("broken/", broken), path("", include("planner.web.urls"))]
handler404 = "planner.web.other.missing"
handler500 = "planner.web.other.failed"
