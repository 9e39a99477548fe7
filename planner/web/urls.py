"""Addresses of the pages; their names are stable."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from planner.web import doors, other
from planner.web.access import public
from planner.web.capacity import CapacityPage, OutlookPage
from planner.web.care import CareFormPage, CarePage, DowntimeFormPage, SiteCarePage
from planner.web.days import DayPage, DaysPage
from planner.web.offers import OffersPage
from planner.web.request import NextPart, RequestPage
from planner.web.requests import RequestsPage
from planner.web.steps import CancelPage, LaterPage, MissedPage
from planner.web.waiting import WaitingPage, WaitPage

sign_in = public("the way in")(
    LoginView.as_view(template_name="web/sign_in.html", redirect_authenticated_user=True)
)
sign_out = public("the way out: it ends a session and shows nothing")(LogoutView.as_view())

urlpatterns = [
    path("", other.home, name="home"),
    path("sign-in/", sign_in, name="sign-in"),
    path("own/password/", doors.PasswordPage.as_view(), name="password"),
    path("set-up/locked/", doors.LockedPage.as_view(), name="locked"),
    path("sign-out/", sign_out, name="sign-out"),
    path("requests/", RequestsPage.as_view(), name="requests"),
    path("requests/<slug:reference>/", RequestPage.as_view(), name="request"),
    path("requests/<slug:reference>/next/", NextPart.as_view(), name="request-next"),
    path("requests/<slug:reference>/offers/", OffersPage.as_view(), name="offers"),
    path("requests/<slug:reference>/cancel/", CancelPage.as_view(), name="cancel"),
    path("requests/<slug:reference>/missed/", MissedPage.as_view(), name="missed"),
    path("requests/<slug:reference>/later/", LaterPage.as_view(), name="later"),
    path("requests/<slug:reference>/wait/", WaitPage.as_view(), name="wait"),
    path("waiting/", WaitingPage.as_view(), name="waiting"),
    path("days/", DaysPage.as_view(), name="days"),
    path("days/<slug:site>/<str:day>/", DayPage.as_view(), name="day"),
    path("care/", CarePage.as_view(), name="care"),
    path("care/<slug:site>/", SiteCarePage.as_view(), name="care-site"),
    path("care/<slug:site>/window/", CareFormPage.as_view(), name="care-window"),
    path("care/<slug:site>/downtime/", DowntimeFormPage.as_view(), name="care-downtime"),
    path("capacity/", CapacityPage.as_view(), name="capacity"),
    path("capacity/outlook/", OutlookPage.as_view(), name="outlook"),
    path("set-up/", other.SetUpPage.as_view(), name="set-up"),
    path("health/", other.health, name="health"),
]
