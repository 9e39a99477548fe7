"""A request of the record as the engine's request: weight, cost, places, times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.engine import network as engine
from planner.engine.network import Policy, SiteChoice, Window
from planner.engine.units import DAY
from planner.gateway.record.demand import Demand, Wanted
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.places import ROLLED
from planner.gateway.record.terms import ratio, unbooked_cost
from sites.models import Appointment, Profile, ProgrammeVersion, Site
from sites.models.profile import CaptureKind
from sites.selectors.travel import travel_minutes


@dataclass(frozen=True, slots=True)
class Around:
    """What requests refer to, by key; ``rolled`` None: every scanner takes rolled prints."""

    horizon: Horizon
    policy: Policy
    terms: Mapping[int, ProgrammeVersion]
    profiles: Mapping[int, Profile]
    sites: Mapping[int, Site]
    demand: Demand
    rolled: frozenset[int] | None


def engine_request(row: Wanted, around: Around) -> engine.Request | None:
    """The request, or None where no site of this network takes it."""
    choices = _choices(row, around)
    if not choices:
        return None
    horizon, terms = around.horizon, around.terms[row.terms]
    features = list(row.features)
    if around.rolled is not None:
        asked = {row.profile, *(profile for _, _, profile in row.sites if profile is not None)}
        if asked & around.rolled:
            features.append(ROLLED)
    due = horizon.day(row.due)
    return engine.Request(
        id=row.reference,
        profile=around.profiles[row.profile].code,
        release=horizon.day(row.release),
        due=due,
        weight=row.priority * ratio(terms, around.policy),
        sites=choices,
        rework=row.rework,
        available=_available(row, horizon),
        features=tuple(features),
        skills=tuple(row.skills),
        unbooked=unbooked_cost(terms, around.policy, due=due, days=horizon.days, given=row.cost),
    )


def rolled_profiles(profiles: Mapping[int, Profile]) -> frozenset[int]:
    """Profiles with rolled captures."""
    return frozenset(
        key
        for key, profile in profiles.items()
        if any(each.kind == CaptureKind.ROLLED for each in profile.captures.all())
    )


def _choices(row: Wanted, around: Around) -> tuple[SiteChoice, ...]:
    """The request's sites that are here; any site, with estimated travel, where it names none."""
    if row.sites:
        return tuple(
            SiteChoice(
                around.sites[site].code,
                travel,
                None if profile is None else around.profiles[profile].code,
            )
            for site, travel, profile in row.sites
            if site in around.sites
        )
    area = None if row.area is None else around.demand.areas[row.area]
    given = around.demand.given
    return tuple(
        SiteChoice(
            site.code,
            0 if area is None else travel_minutes(area=area, site=site, given=given) or 0,
        )
        for site in around.sites.values()
    )


def _available(row: Wanted, horizon: Horizon) -> tuple[Window, ...]:
    """When the subject can come, none of it after the request expires."""
    times = [
        Window(start, start + minutes)
        for day, minute, minutes in row.times
        for start in [horizon.minute(day, minute)]
    ]
    if row.expires is None or row.expires >= horizon.last_day:
        return tuple(times)
    until = (horizon.day(row.expires) + 1) * DAY
    if not times:
        return (Window(min(0, until - 1), until),)
    cut = tuple(Window(each.start, min(each.end, until)) for each in times if each.start < until)
    return cut or (Window(until - 1, until),)


def engine_appointment(
    row: Appointment,
    reference: str,
    stations: Mapping[int, str],
    technicians: Mapping[int, str],
    horizon: Horizon,
    *,
    fixed: bool,
) -> engine.Appointment:
    """An appointment that takes its place."""
    return engine.Appointment(
        id=row.code,
        request=reference,
        station=stations[row.station_id],
        technician=technicians[row.technician_id],
        start=horizon.minute(row.day, row.minute),
        minutes=row.minutes,
        fixed=fixed,
    )


def engine_profile(row: Profile) -> engine.Profile:
    """A kind of session as the record holds it; wrap-up in whole minutes, rounded up."""
    return engine.Profile(
        id=row.code,
        setup=engine.Setup(row.setup_mean, row.setup_sd),
        captures=tuple(
            engine.Capture(each.kind, each.count, each.seconds, each.retake)
            for each in row.captures.all()
        ),
        max_attempts=row.max_attempts,
        remedy_seconds=row.remedy_seconds,
        wrapup=-int(-row.wrapup_minutes // 1),
        no_show=row.no_show,
        skills=tuple(sorted(each.code for each in row.skills.all())),
    )
