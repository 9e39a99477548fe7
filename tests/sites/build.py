"""A small invented world for tests of the record: one site, two stations, two technicians."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sites.models import (
    Appointment,
    OpeningHours,
    Profile,
    ProfileCapture,
    Programme,
    ProgrammeVersion,
    Request,
    Role,
    Scanner,
    ScannerPlacement,
    Site,
    Station,
    Subject,
    Technician,
    User,
)
from sites.models.profile import CaptureKind
from sites.services.appointments import appointment_book, appointment_step
from sites.services.requests import request_receive
from sites.services.sessions import session_start
from sites.services.times import shift_add

DAY = date(2026, 3, 2)  # a Monday
NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
ZONE = "Europe/Vienna"
SCOPED = (Role.COORDINATOR, Role.SITE_LEAD, Role.TECHNICIAN)


@dataclass
class World:
    """Everything that a test may want to hold on to."""

    programme: Programme
    site: Site
    stations: list[Station]
    technicians: list[Technician]
    profile: Profile
    users: dict[str, User]

    @property
    def desk(self) -> User:
        """A coordinator."""
        return self.users[Role.COORDINATOR]

    @property
    def taker(self) -> User:
        """A technician's login."""
        return self.users[Role.TECHNICIAN]

    def request(self, name: str, **values: Any) -> Request:
        """A request of a new subject, received on `DAY`."""
        subject = values.pop("subject", None) or Subject.objects.create(reference=f"s-{name}")
        return request_receive(
            **{
                "programme": self.programme,
                "subject": subject,
                "profile": self.profile,
                "reference": name,
                "received": DAY,
                "sites": [self.site],
                **values,
            }
        )

    def book(self, request: Request, minute: int = 600, **values: Any) -> Appointment:
        """Book at ``minute`` of `DAY`, on the first station with the first technician."""
        return appointment_book(
            **{
                "request": request,
                "station": self.stations[0],
                "technician": self.technicians[0],
                "day": DAY,
                "minute": minute,
                "minutes": 20,
                "by": self.desk,
                **values,
            }
        )

    def session(self, request: Request, minute: int = 600) -> Any:
        """A session that has started."""
        appointment = self.book(request, minute)
        appointment_step(appointment=appointment, action="arrive", by=self.desk)
        return session_start(appointment=appointment, by=self.taker)


def world() -> World:
    """Build it, in the current test's transaction."""
    programme = Programme.objects.create(code="p-one", name="Programme one")
    ProgrammeVersion.objects.create(programme=programme, starts_on=date(2026, 1, 1))
    site = Site.objects.create(code="site-1", name="Site 1", timezone=ZONE)
    OpeningHours.objects.bulk_create(
        OpeningHours(site=site, weekday=weekday, opens=480, closes=1080) for weekday in range(5)
    )
    stations = [Station.objects.create(code=f"st-{n}", site=site) for n in (1, 2)]
    for station in stations:
        scanner = Scanner.objects.create(code=f"sc-{station.code}", serial=f"n-{station.code}")
        ScannerPlacement.objects.create(scanner=scanner, station=station, starts_on=DAY)
    technicians = [
        Technician.objects.create(code=f"t-{n}", name=f"Technician {n}", home=site) for n in (1, 2)
    ]
    for technician in technicians:
        shift_add(technician=technician, site=site, day=DAY, minute=480, minutes=600)
    profile = Profile.objects.create(code="full", setup_mean=4, wrapup_minutes=1)
    ProfileCapture.objects.create(
        profile=profile, kind=CaptureKind.ROLLED, count=10, seconds=20, retake=0.1
    )
    users = {role: User.objects.create(username=role, role=role) for role in Role.values}
    for role in SCOPED:
        users[role].covers.add(site)
    Technician.objects.filter(pk=technicians[0].pk).update(login=users[Role.TECHNICIAN])
    return World(programme, site, stations, technicians, profile, users)
