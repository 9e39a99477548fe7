"""What a network holds: how much there is of everything, and how loaded it is, site by site."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.engine.scenario.capacity import (
    care_by_site_day,
    opening_by_day,
    shifts_by_site_day,
    site_days,
)
from planner.engine.scenario.profiles import planned_lengths

if TYPE_CHECKING:
    from planner.engine.network import Network


@dataclass(frozen=True, slots=True)
class SiteLoad:
    """One site over the whole horizon; minutes are after closed times, breaks and care.

    ``requests`` and ``demand`` (planned minutes) are of the requests whose first site this is.
    """

    site: str
    stations: int
    station_days: int
    technician_days: int
    station_minutes: float
    technician_minutes: float
    capacity: float
    requests: int
    demand: int

    @property
    def load(self) -> float | None:
        """Demand over capacity; None where there is no capacity."""
        return self.demand / self.capacity if self.capacity > 0 else None


@dataclass(frozen=True, slots=True)
class Description:
    """Counts of the network, its planned minutes by profile, and its sites in the file's order."""

    days: int
    technicians: int
    care: int
    fixed: int
    movable: int
    rework: int
    lengths: dict[str, int]
    sites: tuple[SiteLoad, ...]

    def total(self) -> SiteLoad:
        """All sites added up, under the name ``all sites``."""
        return SiteLoad(
            site="all sites",
            stations=sum(site.stations for site in self.sites),
            station_days=sum(site.station_days for site in self.sites),
            technician_days=sum(site.technician_days for site in self.sites),
            station_minutes=sum(site.station_minutes for site in self.sites),
            technician_minutes=sum(site.technician_minutes for site in self.sites),
            capacity=sum(site.capacity for site in self.sites),
            requests=sum(site.requests for site in self.sites),
            demand=sum(site.demand for site in self.sites),
        )

    def density(self) -> float | None:
        """Sessions of mean planned length that a station-day can hold; None where there is none."""
        total = self.total()
        if not (total.station_days and total.requests):
            return None
        return total.capacity / (total.demand / total.requests) / total.station_days


def describe(network: Network) -> Description:
    """Count and measure the network; capacity is as `capacity` defines it."""
    lengths = planned_lengths(network.profiles, network.policy, network.grain)
    opening = {
        site.id: {
            day: windows for day, windows in opening_by_day(site).items() if 0 <= day < network.days
        }
        for site in network.sites
    }
    shifts = shifts_by_site_day(
        shift for technician in network.technicians for shift in technician.shifts
    )
    care = care_by_site_day(network.care, network.stations, opening, network.days)
    by_site = defaultdict(list)
    for (site, _), held in site_days(opening, network.stations, shifts, care).items():
        by_site[site].append(held)
    demand: dict[str, int] = defaultdict(int)
    counts: dict[str, int] = defaultdict(int)
    for request in network.requests:
        if request.sites:
            first = request.sites[0]
            demand[first.site] += lengths[first.profile or request.profile]
            counts[first.site] += 1
    fixed = sum(appointment.fixed for appointment in network.appointments)
    return Description(
        days=network.days,
        technicians=len(network.technicians),
        care=len(network.care),
        fixed=fixed,
        movable=len(network.appointments) - fixed,
        rework=sum(request.rework for request in network.requests),
        lengths=lengths,
        sites=tuple(
            SiteLoad(
                site=site.id,
                stations=sum(station.site == site.id for station in network.stations),
                station_days=sum(held.station_days for held in by_site[site.id]),
                technician_days=sum(held.technician_days for held in by_site[site.id]),
                station_minutes=sum(held.station_minutes for held in by_site[site.id]),
                technician_minutes=sum(held.technician_minutes for held in by_site[site.id]),
                capacity=sum(held.effective for held in by_site[site.id]),
                requests=counts[site.id],
                demand=demand[site.id],
            )
            for site in network.sites
        ),
    )


def description_text(found: Description) -> str:
    """The description as lines of text: a head, then a row per site and one for all."""
    total, density = found.total(), found.density()
    lines = [
        f"{len(found.sites)} sites, {total.stations} stations, {found.technicians} technicians, "
        f"{found.days} days",
        f"{total.requests} requests ({found.rework} rework), {found.fixed} fixed and "
        f"{found.movable} movable appointments, {found.care} care to place",
        "planned minutes: " + ", ".join(f"{name} {n}" for name, n in found.lengths.items()),
        "sessions a station-day can hold: " + ("none" if density is None else f"{density:.1f}"),
        "",
        f"{'site':<18}{'stations':>9}{'station-days':>13}{'technician-days':>16}"
        f"{'station min':>13}{'technician min':>15}{'capacity min':>13}"
        f"{'requests':>9}{'demand min':>11}{'load':>7}",
    ]
    for row in (*found.sites, total):
        load = "none" if row.load is None else f"{row.load:.2f}"
        lines.append(
            f"{row.site:<18}{row.stations:>9}{row.station_days:>13}{row.technician_days:>16}"
            f"{row.station_minutes:>13.0f}{row.technician_minutes:>15.0f}{row.capacity:>13.0f}"
            f"{row.requests:>9}{row.demand:>11}{load:>7}"
        )
    return "\n".join(lines)
