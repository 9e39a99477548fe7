"""What exists in the demo: sites, stations, scanners, technicians, logins, programme, profiles."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from planner.engine.scenario.demo_layout import SEATS, SITES, SitePlan
from planner.engine.scenario.profiles import GRAIN, USUAL_POLICY, all_profiles
from planner.gateway.demo.calendar import CLEANING_EVERY, CLEANING_MINUTES
from planner.gateway.demo.load import MARK
from planner.gateway.demo.story import DRIFT, NEWCOMER, PAST_DAYS
from planner.gateway.demo.tables import Tables
from sites.models import (
    Algorithm,
    CareKind,
    CareRule,
    Certification,
    Feature,
    HomeArea,
    OpeningHours,
    Profile,
    ProfileCapture,
    Programme,
    ProgrammeVersion,
    Role,
    Scanner,
    ScannerPlacement,
    Site,
    Skill,
    Station,
    Supply,
    Technician,
    Threshold,
    User,
)
from sites.services.programmes import NFIQ2_SCORES

KM_A_DEGREE = 111.2
TERMS_CHANGED = 150
"""Days before today on which the programme cut the days until a request is due."""
DUE_DAYS = (28, 21)
VALIDITY_DAYS = 120
SUPPLIES = ("hand_lotion", "ridge_lotion", "water_spray", "paper_towels", "platen_cleaner")


@dataclass(slots=True)
class House:
    """Ids of what exists, by its code."""

    sites: dict[str, int] = field(default_factory=dict)
    stations: dict[str, int] = field(default_factory=dict)
    scanners: dict[str, int] = field(default_factory=dict)
    technicians: dict[str, int] = field(default_factory=dict)
    takers: dict[str, int] = field(default_factory=dict)
    leads: dict[str, int] = field(default_factory=dict)
    profiles: dict[str, int] = field(default_factory=dict)
    features: dict[str, int] = field(default_factory=dict)
    skills: dict[str, int] = field(default_factory=dict)
    areas: dict[str, int] = field(default_factory=dict)
    desk: int = 0


def midnight(day: date) -> datetime:
    """The beginning of a day, UTC."""
    return datetime.combine(day, time(), UTC)


def furnish(tables: Tables, today: date, password: str) -> House:
    """Add everything that exists; ``password`` is the hash that the printed logins share."""
    house = House()
    for seat in SEATS:
        for word in seat.skills:
            house.skills.setdefault(word, 0)
    house.skills.setdefault("sign_language", 0)
    for word in house.skills:
        house.skills[word] = tables.add(Skill, code=word, name=word.replace("_", " "))
    for word in sorted({word for plan in SITES for words in plan.features for word in words}):
        house.features[word] = tables.add(Feature, code=word, name=word.replace("_", " "))
    for plan in SITES:
        site_of(tables, house, plan, today)
    people(tables, house, today, password)
    programme(tables, today)
    profiles(tables, house)
    return house


def site_of(tables: Tables, house: House, plan: SitePlan, today: date) -> None:
    """A site with its hours, stations, scanners and their care rules.

    The coordinates are kilometres of the plan around a point in the open sea.
    """
    where = {"latitude": plan.y / KM_A_DEGREE, "longitude": plan.x / KM_A_DEGREE}
    site = tables.add(
        Site,
        code=plan.id,
        name=plan.name,
        timezone=plan.timezone,
        directions=f"House of {plan.name}, ground floor (invented)\nThe way in has no steps.",
        **where,
    )
    house.sites[plan.id] = site
    house.areas[plan.id] = tables.add(
        HomeArea, code=f"around-{plan.id}", name=f"Around {plan.name}", **where
    )
    for weekday, windows in plan.hours.items():
        for opens, closes in windows:
            tables.add(OpeningHours, site_id=site, weekday=weekday, opens=opens, closes=closes)
    for kind in SUPPLIES:
        tables.add(Supply, site_id=site, kind=kind, count=14 - 2 * len(kind) % 9, low=6)
    for number, words in enumerate(plan.features, 1):
        name = f"{plan.id}-{number}"
        station = tables.add(Station, code=name, name=f"{plan.name} {number}", site_id=site)
        house.stations[name] = station
        for word in words:
            tables.add(
                Station.features.through, station_id=station, feature_id=house.features[word]
            )
        scanner = tables.add(
            Scanner,
            code=f"scanner-{name}",
            serial=f"INVENTED-{station:04d}",
            certified_on=today - timedelta(days=400 + 210 * station % 1500),
        )
        house.scanners[name] = scanner
        tables.add(
            ScannerPlacement,
            scanner_id=scanner,
            station_id=station,
            starts_on=today - timedelta(days=PAST_DAYS + 30),
        )
        on, _, minutes = plan.calibration
        tables.add(
            CareRule,
            scanner_id=scanner,
            kind=CareKind.CALIBRATION,
            every_days=1 if on is None else 7,
            minutes=minutes,
            needs_technician=False,
            grace_days=4 if on is None else 7,
        )
        tables.add(
            CareRule,
            scanner_id=scanner,
            kind=CareKind.CLEANING,
            every_days=CLEANING_EVERY,
            minutes=CLEANING_MINUTES,
            needs_technician=False,
            grace_days=5,
        )


def people(tables: Tables, house: House, today: date, password: str) -> None:
    """One login a role with the password, one a site lead and technician that nobody can use."""

    def user(name: str, role: str, **values: object) -> int:
        known = {"username": name, "role": role, "password": "!", "first_name": "Invented"}
        return tables.add(User, **{**known, "date_joined": midnight(today), **values})

    for role in Role:
        chief = role == Role.ADMINISTRATOR
        key = user(role.value, role.value, password=password, is_staff=chief, is_superuser=chief)
        if role == Role.COORDINATOR:
            house.desk = key
            for place in house.sites.values():  # one desk books for the whole network
                tables.add(User.covers.through, user_id=key, site_id=place)
        if role == Role.SITE_LEAD:
            house.leads[SITES[0].id] = key
        if role == Role.TECHNICIAN:
            house.takers[SEATS[0].id] = key
    for plan in SITES:
        if plan.id not in house.leads:
            house.leads[plan.id] = user(f"lead-{plan.id}", Role.SITE_LEAD.value)
        tables.add(User.covers.through, user_id=house.leads[plan.id], site_id=house.sites[plan.id])
    for seat in SEATS:
        if seat.id not in house.takers:
            house.takers[seat.id] = user(seat.id, Role.TECHNICIAN.value)
        for site, _ in seat.works:
            tables.add(
                User.covers.through, user_id=house.takers[seat.id], site_id=house.sites[site]
            )
        new = seat.id == NEWCOMER.technician
        since = today - timedelta(days=NEWCOMER.begins if new else 900)
        house.technicians[seat.id] = technician = tables.add(
            Technician,
            code=seat.id,
            name=seat.id.split("-")[0].capitalize(),
            home_id=house.sites[seat.works[0][0]],
            login_id=house.takers[seat.id],
            since=since,
        )
        for word in seat.skills:
            tables.add(
                Technician.skills.through, technician_id=technician, skill_id=house.skills[word]
            )
        tables.add(
            Certification,
            technician_id=technician,
            kind="live_scan",
            certificate=f"INVENTED-{technician:03d}",
            starts_on=since,
            expires_on=today + timedelta(days=120 + 37 * technician),
            supervised=20 if new else 0,
        )


def programme(tables: Tables, today: date) -> None:
    """One programme of two versions, with the handbook's thresholds as its beginning."""
    key = tables.add(
        Programme,
        code=f"{MARK}-register",
        name="Invented register (demo)",
        contact="Call us: +999 000 000, Monday to Friday, 8:00 to 16:00 (invented)",
        bring="- The letter of the register\n- The document that it names",
        reply_to="desk@register.invalid",
    )
    cost = USUAL_POLICY.cost
    for starts, due in zip((PAST_DAYS + 60, TERMS_CHANGED), DUE_DAYS, strict=True):
        terms = tables.add(
            ProgrammeVersion,
            programme_id=key,
            starts_on=today - timedelta(days=starts),
            due_days=due,
            validity_days=VALIDITY_DAYS,
            grain_minutes=GRAIN,
            wait_minutes=USUAL_POLICY.wait_minutes,
            wait_risk=USUAL_POLICY.wait_risk,
            overtime_minutes=USUAL_POLICY.overtime_minutes,
            overtime_risk=USUAL_POLICY.overtime_risk,
            cost_unbooked=cost.unbooked,
            cost_late_day=cost.late_day,
            cost_wait_day=cost.wait_day,
            cost_travel_minute=cost.travel_minute,
            cost_move=cost.move,
        )
        for impression, scores in NFIQ2_SCORES.items():
            for hand in (0, 5):
                for position, score in enumerate(scores, hand + 1):
                    tables.add(
                        Threshold,
                        terms_id=terms,
                        algorithm=Algorithm.NFIQ2.value,
                        position=position,
                        impression=int(impression),
                        score=score,
                    )


def profiles(tables: Tables, house: House) -> None:
    """The kinds of session, as the file demo has them."""
    for profile in all_profiles():
        house.profiles[profile.id] = key = tables.add(
            Profile,
            code=profile.id,
            name=profile.id.replace("_", " "),
            setup_mean=profile.setup.mean,
            setup_sd=profile.setup.sd,
            max_attempts=profile.max_attempts,
            remedy_seconds=profile.remedy_seconds,
            wrapup_minutes=profile.wrapup,
            no_show=profile.no_show,
        )
        for order, capture in enumerate(profile.captures):
            tables.add(
                ProfileCapture,
                profile_id=key,
                order=order,
                kind=capture.kind,
                count=capture.count,
                seconds=capture.seconds,
                retake=capture.retake,
            )


DRIFTING_SCANNER = f"scanner-{DRIFT.station}"
