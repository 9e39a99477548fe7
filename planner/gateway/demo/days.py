"""Shifts, breaks, absences, closures, downtimes and care of every day, past and to come."""

from __future__ import annotations

from datetime import date, timedelta

from planner.engine.scenario.demo_layout import SITES
from planner.gateway.demo.calendar import SiteDay, closed_days
from planner.gateway.demo.house import House
from planner.gateway.demo.lanes import Lane
from planner.gateway.demo.story import DRIFT
from planner.gateway.demo.tables import Tables
from sites.clock import visit_span, wall_span
from sites.models import (
    Absence,
    Break,
    CareKind,
    CareOutcome,
    CareWindow,
    Closure,
    Downtime,
    Reserve,
    Shift,
)

RESERVED = 90
"""Minutes a day that sites with a reserve keep for rework."""


def shut(tables: Tables, house: House, today: date) -> None:
    """Whole days on which every site is closed."""
    for day, why in sorted(closed_days(today).items()):
        for plan in SITES:
            tables.add(
                Closure,
                site_id=house.sites[plan.id],
                reason=why,
                **wall_span(plan.timezone, day, 0, 1440),
            )


def staff(
    tables: Tables, house: House, here: SiteDay, lanes: list[Lane], *, past: bool, plans: bool
) -> None:
    """The day's shifts; breaks where they are past; who was away; what was down.

    ``plans`` says that the day will be planned: then it has its reserve.
    """
    plan = here.plan
    taken = {lane.turn.seat.id: lane.rest for lane in lanes}
    for turn in (*here.turns, *here.away):
        technician = house.technicians[turn.seat.id]
        rest = {}
        if turn.rest:
            rest = {
                "break_minutes": turn.rest,
                "break_from": turn.rest_from,
                "break_to": turn.rest_to,
            }
        shift = tables.add(
            Shift,
            technician_id=technician,
            site_id=house.sites[plan.id],
            **wall_span(plan.timezone, here.day, turn.start, turn.end - turn.start),
            **rest,
        )
        span = taken.get(turn.seat.id)
        if past and span is not None:
            tables.add(
                Break,
                shift_id=shift,
                technician_id=technician,
                **visit_span(plan.timezone, here.day, span[0], span[1] - span[0]),
            )
    for turn in here.away:
        home = next(site for site in SITES if site.id == turn.seat.works[0][0])
        tables.add(
            Absence,
            technician_id=house.technicians[turn.seat.id],
            **wall_span(home.timezone, here.day, 360, 900),
        )
    for name, why in here.down.items():
        tables.add(
            Downtime,
            station_id=house.stations[name],
            reason=why,
            **wall_span(plan.timezone, here.day, 0, 1440),
        )
    if plans and plan.reserve:
        tables.add(Reserve, site_id=house.sites[plan.id], day=here.day, minutes=RESERVED)


def look_after(tables: Tables, house: House, here: SiteDay, today: date) -> None:
    """The day's calibration and cleaning: done where it is past, fixed where it is to come."""
    before = (today - here.day).days
    for kind, spans in (
        (CareKind.CALIBRATION, here.calibration),
        (CareKind.CLEANING, here.cleaning),
    ):
        for name, (start, end) in spans.items():
            times = visit_span(here.plan.timezone, here.day, start, end - start)
            done = before > 0
            drifts = done and name == DRIFT.station and DRIFT.ends < before <= DRIFT.begins
            found = drifts and kind == CareKind.CALIBRATION and before < DRIFT.begins - 14
            tables.add(
                CareWindow,
                code=f"{kind.value}-{name}-{here.day:%Y%m%d}",
                station_id=house.stations[name],
                scanner_id=house.scanners[name],
                kind=kind.value,
                needs_technician=False,
                earliest=here.day,
                latest=here.day,
                fixed=True,
                outcome=CareOutcome.DONE.value if done else "",
                closed_at=times["ends_at"] if done else None,
                closed_by_id=house.leads[here.plan.id] if done else None,
                note="near the end of what can be adjusted" if found else "",
                **times,
            )
    if before == DRIFT.ends and here.plan.id == DRIFT.station.rsplit("-", 1)[0]:
        times = visit_span(here.plan.timezone, here.day, *REPAIR)
        tables.add(
            CareWindow,
            code=f"maintenance-{DRIFT.station}-{here.day:%Y%m%d}",
            station_id=house.stations[DRIFT.station],
            scanner_id=house.scanners[DRIFT.station],
            kind=CareKind.MAINTENANCE.value,
            needs_technician=False,
            earliest=here.day - timedelta(days=2),
            latest=here.day,
            fixed=True,
            outcome=CareOutcome.DONE.value,
            closed_at=times["ends_at"],
            closed_by_id=house.leads[here.plan.id],
            note="lamp and platen changed after three weeks of retakes",
            **times,
        )


REPAIR = (5 * 60, 90)
"""Before the site opens: minute and minutes of the drifting scanner's repair."""
