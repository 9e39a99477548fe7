"""Addresses of the API; their names are stable."""

from __future__ import annotations

from django.urls import path, re_path

from planner.api.at import at, nowhere
from planner.api.documents import DocsPage, schema
from planner.api.operations import (
    appointments,
    care,
    figures,
    holds,
    own,
    places,
    plans,
    requests,
    returns,
    runs,
)

app_name = "api"
urlpatterns = [
    path("schema/", schema, name="schema"),
    path("docs/", DocsPage.as_view(), name="docs"),
    path("me/", at(own.OwnRead), name="me"),
    path("tokens/", at(own.TokensList, own.TokenMake), name="tokens"),
    path("tokens/<slug:token>/", at(own.TokenRevoke), name="token"),
    path("problems/<slug:kind>/", at(own.ProblemsRead), name="problem"),
    path("sites/", at(places.SitesList), name="sites"),
    path("sites/<slug:site>/", at(places.SiteRead), name="site"),
    path("sites/<slug:site>/days/<str:day>/", at(figures.DayRead), name="day"),
    path("stations/", at(places.StationsList), name="stations"),
    path("stations/<slug:station>/", at(places.StationRead), name="station"),
    path("scanners/", at(places.ScannersList), name="scanners"),
    path("scanners/<slug:scanner>/", at(places.ScannerRead), name="scanner"),
    path("technicians/", at(places.TechniciansList), name="technicians"),
    path("technicians/<slug:technician>/", at(places.TechnicianRead), name="technician"),
    path("programmes/", at(places.ProgrammesList), name="programmes"),
    path("programmes/<slug:programme>/", at(places.ProgrammeRead), name="programme"),
    path("profiles/", at(places.ProfilesList), name="profiles"),
    path("profiles/<slug:profile>/", at(places.ProfileRead), name="profile"),
    path("requests/", at(requests.RequestsList, requests.RequestReceive), name="requests"),
    path("requests/<slug:reference>/", at(requests.RequestRead), name="request"),
    path("requests/<slug:reference>/close/", at(requests.RequestClose), name="request-close"),
    path("requests/<slug:reference>/hold/", at(holds.RequestHold), name="hold"),
    path("requests/<slug:reference>/release/", at(holds.RequestRelease), name="release"),
    path("holds/", at(holds.RequestsHold), name="holds"),
    path("holds/release/", at(holds.RequestsRelease), name="holds-release"),
    path("requests/<slug:reference>/timeline/", at(requests.RequestTimeline), name="timeline"),
    path("requests/<slug:reference>/person/", at(requests.RequestPerson), name="person"),
    path("people/find/", at(requests.PersonFind), name="people-find"),
    path(
        "appointments/",
        at(appointments.AppointmentsList, appointments.AppointmentBook),
        name="appointments",
    ),
    path("appointments/<slug:appointment>/", at(appointments.AppointmentRead), name="appointment"),
    path("appointments/<slug:appointment>/move/", at(appointments.AppointmentMove), name="move"),
    path(
        "appointments/<slug:appointment>/cancel/", at(appointments.AppointmentCancel), name="cancel"
    ),
    path(
        "appointments/<slug:appointment>/arrive/", at(appointments.AppointmentArrive), name="arrive"
    ),
    path(
        "appointments/<slug:appointment>/take-back/",
        at(appointments.AppointmentTakeBack),
        name="take-back",
    ),
    path(
        "appointments/<slug:appointment>/missed/", at(appointments.AppointmentMissed), name="missed"
    ),
    path("care/", at(care.CareList, care.CareSet), name="care"),
    path("care/<slug:care>/", at(care.CareRead), name="care-window"),
    path("care/<slug:care>/close/", at(care.CareEnd), name="care-close"),
    path("downtimes/", at(care.DowntimesList, care.DowntimeAdd), name="downtimes"),
    path("submissions/", at(returns.SubmissionsList), name="submissions"),
    path("responses/", at(returns.ResponsesList, returns.ResponseRegister), name="responses"),
    path("responses/<int:number>/", at(returns.ResponseRead), name="response"),
    path("responses/<int:number>/read/", at(returns.ResponseSeen), name="response-read"),
    path(
        "responses/<int:number>/contacted/",
        at(returns.ResponseContacted),
        name="response-contacted",
    ),
    path("responses/<int:number>/rework/", at(returns.ResponseRework), name="response-rework"),
    path("figures/", at(figures.FiguresRead), name="figures"),
    path("outlook/", at(figures.OutlookRead), name="outlook"),
    path("runs/", at(runs.RunsList, runs.RunAsk), name="runs"),
    path("runs/<int:run>/", at(runs.RunRead), name="run"),
    path("runs/<int:run>/cancel/", at(runs.RunCancel), name="run-cancel"),
    path("runs/<int:run>/plan/", at(plans.RunPlan), name="run-plan"),
    path("runs/<int:run>/lines/", at(plans.RunLines), name="run-lines"),
    path("runs/<int:run>/meanwhile/", at(plans.RunMeanwhile), name="run-meanwhile"),
    path("runs/<int:run>/accept/", at(plans.RunAccept), name="run-accept"),
    path("runs/<int:run>/put-aside/", at(plans.RunPutAside), name="run-put-aside"),
    re_path(r"^(?P<rest>.*)$", nowhere),
]
