"""What of a network the record cannot hold, found before anything is written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from django.db.models import Model

from planner.engine.errors import Fault
from planner.engine.network import Network
from planner.gateway.record.store_places import merged
from sites.models import (
    Appointment,
    CareWindow,
    Profile,
    Request,
    Site,
    Station,
    Subject,
    Technician,
)

_CODE = re.compile(r"[-\w]{1,64}", re.ASCII)
SMALL = 32_767
"""The largest whole number that most columns hold."""
KINDS: tuple[tuple[str, type[Model], str], ...] = (
    ("profiles", Profile, "code"),
    ("sites", Site, "code"),
    ("stations", Station, "code"),
    ("technicians", Technician, "code"),
    ("requests", Request, "reference"),
    ("requests", Subject, "reference"),
    ("care", CareWindow, "code"),
    ("appointments", Appointment, "code"),
)


def store_faults(network: Network) -> Iterator[Fault]:
    """Every fault, in the order of the file's kinds."""
    yield from _codes(network)
    yield from _numbers(network)
    if network.technicians and not network.sites:
        yield Fault("sites", "is empty, but technicians need a home", "add the technicians' site")
    for i, request in enumerate(network.requests):
        if not request.sites:
            yield Fault(
                f"requests[{i}].sites",
                "is empty, which the record reads as any site",
                "name the request's sites, or leave the request out",
            )
    yield from _overlaps(network)


def _codes(network: Network) -> Iterator[Fault]:
    """Ids are codes, and new to the record."""
    for kind, model, column in KINDS:
        have = set(model._default_manager.values_list(column, flat=True))
        for i, row in enumerate(getattr(network, kind)):
            if row.id in have:
                yield Fault(
                    f"{kind}[{i}].id",
                    f'"{row.id}" is in the record already',
                    "import into an empty database, or give it another id",
                )
            elif not _CODE.fullmatch(row.id) and model is not Subject:
                yield Fault(
                    f"{kind}[{i}].id",
                    f'"{row.id}" is no code of the record',
                    "use up to 64 letters, digits, hyphens and underscores",
                )
    asking = ("stations", "requests", "technicians", "profiles")
    for kind in asking:
        for i, row in enumerate(getattr(network, kind)):
            for name in ("features", "skills"):
                for k, word in enumerate(getattr(row, name, ())):
                    if not _CODE.fullmatch(word):
                        yield Fault(
                            f"{kind}[{i}].{name}[{k}]",
                            f'"{word}" is no code of the record',
                            "use up to 64 letters, digits, hyphens and underscores",
                        )


def _numbers(network: Network) -> Iterator[Fault]:
    """Whole numbers that a column would not hold, and captures that are none."""
    found = [("grain", network.grain), ("days", network.days)]
    found += [
        (f"policy.{n}", getattr(network.policy, n)) for n in ("wait_minutes", "overtime_minutes")
    ]
    for i, request in enumerate(network.requests):
        found += [
            (f"requests[{i}].sites[{k}].travel", each.travel)
            for k, each in enumerate(request.sites)
        ]
    found += [(f"care[{i}].minutes", row.minutes) for i, row in enumerate(network.care)]
    for i, profile in enumerate(network.profiles):
        found.append((f"profiles[{i}].max_attempts", profile.max_attempts))
        for k, each in enumerate(profile.captures):
            found.append((f"profiles[{i}].captures[{k}].count", each.count))
            if each.count == 0:
                yield Fault(
                    f"profiles[{i}].captures[{k}].count",
                    "0 captures are none",
                    "leave the line out",
                )
    for path, value in found:
        if value > SMALL:
            yield Fault(path, f"{value} is more than {SMALL}", "write a smaller number")
    for i, site in enumerate(network.sites):
        if len(site.name) > 200:
            yield Fault(f"sites[{i}].name", "is longer than 200 characters", "shorten it")
    for i, station in enumerate(network.stations):
        for k, time in enumerate(merged(station.closed)):
            if len(time.why) > 200:
                yield Fault(
                    f"stations[{i}].closed[{k}].why", "is longer than 200 characters", "shorten it"
                )


def _overlaps(network: Network) -> Iterator[Fault]:
    """Appointments that collide with each other or with a closed time: the record refuses them."""
    closed = {row.id: merged(row.closed) for row in network.stations}
    numbered = list(enumerate(network.appointments))
    for key in ("station", "technician"):
        order = sorted(numbered, key=lambda each: (getattr(each[1], key), each[1].start))
        for (i, one), (j, other) in pairwise(order):
            if getattr(one, key) == getattr(other, key) and other.start < one.start + one.minutes:
                yield Fault(
                    f"appointments[{max(i, j)}].start",
                    f"overlaps appointments[{min(i, j)}] of the same {key}",
                    "move or leave out one of them",
                )
    for i, row in numbered:
        end = row.start + row.minutes
        if any(each.start < end and row.start < each.end for each in closed[row.station]):
            yield Fault(
                f"appointments[{i}].start",
                f'lies in a time in which "{row.station}" is closed',
                "leave the appointment out, or the closed time",
            )
