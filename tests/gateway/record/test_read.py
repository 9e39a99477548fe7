"""What the record says becomes a network: places, people, care, prices, in so many queries."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.engine.errors import FileRefused
from planner.engine.network import Closure, Network, Window
from planner.gateway.record import read
from planner.gateway.record.terms import policy_of, unbooked_cost
from sites.models import CareKind, CareRule, HomeArea, ProgrammeVersion, Subject, TravelTime
from sites.services.care import care_fix
from sites.services.times import absence_add, downtime_add
from tests.sites.build import DAY, World


def seen(days: int = 5, **options: object) -> Network:
    """The network of the small world from its Monday."""
    return read(first_day=DAY, days=days, **options)  # type: ignore[arg-type]


def test_ten_requests_take_as_many_queries_as_two_hundred(here: World) -> None:
    counts = []
    for names in (range(10), range(10, 200)):
        for number in names:
            here.request(f"r-{number}")
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert len(seen().requests) == names.stop
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_hours_are_the_week_less_what_closes(here: World) -> None:
    network = seen()
    assert network.sites[0].open == tuple(
        Window(day * 1440 + 480, day * 1440 + 1080) for day in range(5)
    )


def test_a_downtime_closes_a_station_and_an_absence_cuts_a_shift(here: World) -> None:
    downtime_add(station=here.stations[0], day=DAY, minute=600, minutes=30, reason="lamp")
    absence_add(technician=here.technicians[0], day=DAY, minute=540, minutes=60)
    network = seen(1)
    assert network.stations[0].closed == (Closure(600, 630, "lamp"),)
    assert [(each.start, each.end) for each in network.technicians[0].shifts] == [
        (480, 540),
        (600, 1080),
    ]


def test_care_that_a_person_fixed_takes_station_and_technician(here: World) -> None:
    care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=DAY,
        minute=480,
        minutes=30,
        code="c-1",
        technician=here.technicians[1],
    )
    network = seen(1)
    assert network.care == ()
    assert network.stations[0].closed == (Closure(480, 510, "cleaning"),)
    assert [(each.start, each.end) for each in network.technicians[1].shifts] == [(510, 1080)]


def test_a_rule_asks_for_care_on_each_day_it_falls_due(here: World) -> None:
    scanner = here.stations[0].placements.get().scanner
    CareRule.objects.create(
        scanner=scanner, kind="calibration", every_days=2, minutes=20, needs_technician=False
    )
    # Placed on Monday: due on Wednesday and Friday, then on the Monday after.
    assert [(row.station, row.earliest, row.latest) for row in seen(8).care] == [
        ("st-1", 2, 2),
        ("st-1", 4, 4),
        ("st-1", 7, 7),
    ]


def test_an_appointment_outside_the_horizon_leaves_its_request_out(here: World) -> None:
    booked = here.book(here.request("r-1"))
    assert [row.id for row in seen().appointments] == [booked.code]
    later = read(first_day=DAY + timedelta(days=1), days=3)
    assert (later.requests, later.appointments) == ((), ())


def test_whoever_is_not_asked_for_keeps_the_place_that_is_booked(here: World) -> None:
    here.book(here.request("r-1"))
    for name in ("r-2", "r-3"):
        here.request(name)
    network = seen(requests=["r-2"])
    assert [row.id for row in network.requests] == ["r-1", "r-2"]
    assert [row.fixed for row in network.appointments] == [True]


def test_travel_is_the_areas_table_first(here: World) -> None:
    area = HomeArea.objects.create(code="area-1")
    TravelTime.objects.create(area=area, site=here.site, minutes=17)
    here.request("r-1", subject=Subject.objects.create(reference="s-1", home_area=area), sites=[])
    assert [each.travel for each in seen().requests[0].sites] == [17]


def test_nobody_is_booked_after_a_request_expires(here: World) -> None:
    request = here.request("r-1")
    type(request).objects.filter(pk=request.pk).update(due=DAY, expires=DAY + timedelta(days=1))
    assert seen().requests[0].available == (Window(0, 2880),)


def test_leaving_out_costs_its_lateness_or_less_the_later_it_is_due() -> None:
    terms = ProgrammeVersion()  # costs 30, and 3 for a day late
    policy = policy_of([terms])
    costs = [
        unbooked_cost(terms, policy, due=due, days=10, given=None) for due in (1, 9, 16, 23, 99)
    ]
    # By hand: 30 + 9 days late × 3; 30 + 3; 30 halved once, then twice, then a fifth of it.
    assert costs == [57.0, 33.0, 15.0, 7.5, 6.0]
    assert unbooked_cost(terms, policy, due=1, days=10, given=30.0) is None
    assert unbooked_cost(terms, policy, due=1, days=10, given=4.0) == 4.0


def test_programmes_that_differ_share_one_policy_and_keep_their_costs() -> None:
    usual = ProgrammeVersion(wait_risk=0.2)
    dear = ProgrammeVersion(cost_unbooked=120, cost_late_day=6, wait_minutes=10)
    policy = policy_of([usual, dear])
    assert (policy.wait_minutes, policy.wait_risk) == (10, 0.1)
    assert (policy.cost.unbooked, policy.cost.late_day) == (120, 6)
    # The usual one weighs 3 ÷ 6; due on the last day: (30 + 3 × 1) ÷ 0.5.
    assert unbooked_cost(usual, policy, due=9, days=10, given=None) == pytest.approx(66.0)


def test_a_site_that_is_not_there_is_named(here: World) -> None:
    with pytest.raises(FileRefused, match="site nowhere: is not in the record"):
        seen(sites=["nowhere"])


@pytest.mark.django_db
def test_an_empty_record_says_what_to_add() -> None:
    with pytest.raises(FileRefused, match="no programme has parameters yet; add a programme"):
        seen()
