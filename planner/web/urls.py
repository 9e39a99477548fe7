"""Addresses of the pages; their names are stable."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from planner.web import doors, health, other
from planner.web.access import public
from planner.web.audit import AuditFile, AuditPage
from planner.web.capacity import CapacityPage, OutlookPage
from planner.web.care import CareFormPage, CarePage, DowntimeFormPage, SiteCarePage
from planner.web.chosen import Choose
from planner.web.chosen_acts import HoldChosen, PlanChosen, ReleaseChosen, SitesChosen
from planner.web.days import DayPage, DaysPage
from planner.web.find import FindPeople
from planner.web.intake import CandidatePage, IntakeFile, IntakeStart
from planner.web.intake_files import problems, template
from planner.web.listed_file import ListedFile
from planner.web.notices import NoticePage, NoticesPage, notice_calendar
from planner.web.offers import OffersPage
from planner.web.register import RegisterPage
from planner.web.request import NextPart, RequestPage
from planner.web.requests import RequestsPage
from planner.web.returned import ReturnedPage, ReturnPage
from planner.web.runs.acts import AcceptRun, EndRun, Meanwhile, PutAside, TickLines
from planner.web.runs.ask import AskPage
from planner.web.runs.listing import RunsPage
from planner.web.runs.one import RunPage
from planner.web.steps import CancelPage, LaterPage, MissedPage
from planner.web.texts import TextPage, TextsPage
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
    path("requests.csv", ListedFile.as_view(), name="requests-csv"),
    path("chosen/", Choose.as_view(), name="choose"),
    path("chosen/<slug:code>/plan/", PlanChosen.as_view(), name="chosen-plan"),
    path("chosen/<slug:code>/hold/", HoldChosen.as_view(), name="chosen-hold"),
    path("chosen/<slug:code>/release/", ReleaseChosen.as_view(), name="chosen-release"),
    path("chosen/<slug:code>/sites/", SitesChosen.as_view(), name="chosen-sites"),
    path("people/find/", FindPeople.as_view(), name="people-find"),
    path("intake/", IntakeStart.as_view(), name="intake"),
    path("intake/one/", CandidatePage.as_view(), name="candidate"),
    path("intake/candidates.csv", template, {"kind": "csv"}, name="intake-template-csv"),
    path("intake/candidates.xlsx", template, {"kind": "xlsx"}, name="intake-template-xlsx"),
    path("intake/<slug:code>/", IntakeFile.as_view(), name="intake-file"),
    path("intake/<slug:code>/problems/", problems, name="intake-problems"),
    path("returned/", ReturnedPage.as_view(), name="returned"),
    path("returned/register/", RegisterPage.as_view(), name="register"),
    path("returned/set/<path:number>/", ReturnPage.as_view(), name="return"),
    path("notices/", NoticesPage.as_view(), name="notices"),
    path("notices/<slug:reference>/<int:number>/", NoticePage.as_view(), name="notice"),
    path(
        "notices/<slug:reference>/<int:number>/calendar/", notice_calendar, name="notice-calendar"
    ),
    path("requests/<slug:reference>/next/", NextPart.as_view(), name="request-next"),
    path("requests/<slug:reference>/offers/", OffersPage.as_view(), name="offers"),
    path("requests/<slug:reference>/cancel/", CancelPage.as_view(), name="cancel"),
    path("requests/<slug:reference>/missed/", MissedPage.as_view(), name="missed"),
    path("requests/<slug:reference>/later/", LaterPage.as_view(), name="later"),
    path("requests/<slug:reference>/wait/", WaitPage.as_view(), name="wait"),
    path("waiting/", WaitingPage.as_view(), name="waiting"),
    path("runs/", RunsPage.as_view(), name="runs"),
    path("runs/new/", AskPage.as_view(), name="run-ask"),
    path("runs/<int:number>/", RunPage.as_view(), name="run"),
    path("runs/<int:number>/end/", EndRun.as_view(), name="run-end"),
    path("runs/<int:number>/meanwhile/", Meanwhile.as_view(), name="run-meanwhile"),
    path("runs/<int:number>/ticks/", TickLines.as_view(), name="run-ticks"),
    path("runs/<int:number>/accept/", AcceptRun.as_view(), name="run-accept"),
    path("runs/<int:number>/aside/", PutAside.as_view(), name="run-aside"),
    path("days/", DaysPage.as_view(), name="days"),
    path("days/<slug:site>/<str:day>/", DayPage.as_view(), name="day"),
    path("care/", CarePage.as_view(), name="care"),
    path("care/<slug:site>/", SiteCarePage.as_view(), name="care-site"),
    path("care/<slug:site>/window/", CareFormPage.as_view(), name="care-window"),
    path("care/<slug:site>/downtime/", DowntimeFormPage.as_view(), name="care-downtime"),
    path("capacity/", CapacityPage.as_view(), name="capacity"),
    path("capacity/outlook/", OutlookPage.as_view(), name="outlook"),
    path("set-up/", other.SetUpPage.as_view(), name="set-up"),
    path("audit/", AuditPage.as_view(), name="audit"),
    path("audit/csv/", AuditFile.as_view(), name="audit-csv"),
    path("health/", health.health, name="health"),
    path("alive/", health.alive, name="alive"),
    path("metrics/", health.metrics, name="metrics"),
    path("set-up/texts/", TextsPage.as_view(), name="texts"),
    path("set-up/texts/<slug:programme>/<str:kind>/", TextPage.as_view(), name="text"),
]
