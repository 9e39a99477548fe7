"""One site's days out of the record: what exists there, and what has a time already."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.network import Closure, Policy
from planner.gateway.record.crew import find_technicians
from planner.gateway.record.demand import Demand, demand_of
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.places import downtimes, find_sites, find_stations, flats_only
from planner.gateway.record.requests import rolled_profiles
from planner.gateway.record.terms import all_terms, grain_of, latest, policy_of
from sites.models import (
    Appointment,
    Break,
    CareOutcome,
    CareWindow,
    Profile,
    ProgrammeVersion,
    Request,
    Site,
    Station,
    Technician,
)
from sites.step import OCCUPIES


@dataclass(frozen=True)
class SiteRows:
    """Rows of one site in a horizon; ``demand`` has the requests that are booked there.

    ``policy`` promises what the strictest of the programmes concerned does, and charges what the
    programmes in force charge, so that costs at two sites compare. ``flats`` are stations whose
    scanner takes no rolled prints.
    """

    horizon: Horizon
    site: Site
    stations: list[Station]
    technicians: list[Technician]
    appointments: list[Appointment]
    care: list[CareWindow]
    breaks: list[Break]
    downs: list[tuple[int, Closure]]
    demand: Demand
    terms: dict[int, ProgrammeVersion]
    profiles: dict[int, Profile]
    flats: set[int]
    rolled: frozenset[int]
    policy: Policy
    grain: int


def site_rows(site_code: str, horizon: Horizon) -> SiteRows:
    """Read them, in as many queries for ten appointments as for a thousand."""
    places = find_sites(horizon, [site_code])
    span = {"day__gte": horizon.first_day, "day__lte": horizon.last_day}
    here = Appointment.objects.filter(station__site__in=places, step__in=OCCUPIES, **span)
    appointments = list(here.order_by("starts_at", "pk"))
    demand = demand_of(Request.objects.filter(pk__in=here.values("request")))
    stations = find_stations(places, {row.station_id for row in appointments})
    terms = all_terms()
    in_force = latest(terms.values(), horizon.first_day)
    concerned = {row.pk: row for row in in_force}
    concerned |= {row.terms: terms[row.terms] for row in demand.requests.values()}
    strictest, charged = policy_of(concerned.values()), policy_of(in_force)
    profiles = {
        row.pk: row
        for row in Profile.objects.order_by("code").prefetch_related("captures", "skills")
    }
    care = CareWindow.objects.filter(station__site__in=places, **span)
    return SiteRows(
        horizon=horizon,
        site=places[0],
        stations=stations,
        technicians=find_technicians(places, horizon),
        appointments=appointments,
        care=list(care.exclude(outcome=CareOutcome.MISSED).order_by("starts_at", "pk")),
        breaks=list(Break.objects.filter(shift__site__in=places, **span).order_by("starts_at")),
        downs=downtimes(places, horizon),
        demand=demand,
        terms=terms,
        profiles=profiles,
        flats=flats_only(stations, horizon),
        rolled=rolled_profiles(profiles),
        policy=Policy(
            strictest.wait_minutes,
            strictest.wait_risk,
            strictest.overtime_minutes,
            strictest.overtime_risk,
            charged.cost,
        ),
        grain=grain_of(concerned.values()),
    )
