"""Answers that can be worked out by hand (each derived beside its check)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.booking.offers import OfferDesk
from planner.engine.errors import FileRefused
from planner.engine.network import Appointment, Policy, Station, Technician, Window
from planner.engine.plan import Price
from planner.engine.verify import verify
from tests.engine.booking.build import COST, at
from tests.engine.booking.offers.brute import restated, with_booking, without
from tests.engine.booking.offers.hall import as_booking, booked, hall, request
from tests.engine.verify.good import NETWORK, PLAN

FIRST_DAY = (("a", at(9)), ("b", at(9, 20)), ("c", at(9, 40)))
LAX = Policy(15, 1.0, 20, 1.0, COST)


def test_the_first_free_times_of_the_hand_made_plan() -> None:
    """On Monday the reserve leaves 6 min to what is not rework (below), and r6 takes 20.

    On Tuesday t2 is free from 9:12; n2 wastes no feature; a day's wait at weight 2 costs 0.2.
    """
    desk = OfferDesk(NETWORK, PLAN)
    found = desk.offers(desk.request("r6"), 3)
    assert [(o.station, o.technician, o.start, o.told) for o in found.offers] == [
        ("n2", "t2", at(9, 12, day=1), at(9, 10, day=1)),
        ("n2", "t2", at(9, 15, day=1), at(9, 15, day=1)),
        ("n2", "t2", at(9, 20, day=1), at(9, 20, day=1)),
    ]
    assert [o.cost for o in found.offers] == pytest.approx([0.2] * 3)
    assert (found.offers[0].minutes, found.offers[0].wait_days, found.offers[0].delay_days) == (
        20, 1, 0,
    )  # fmt: skip
    assert found.unbooked == 20.0
    assert found.displaces == () == found.waiting_list
    assert found.reserve is None


def test_a_reserve_that_alone_keeps_a_time_is_shown_when_free_times_are_few() -> None:
    """Room 850 (t1 480 - 30, t2 420 - 20), reserve 750, used 18 + 20 + 12 + 20 + 24 = 94."""
    desk = OfferDesk(NETWORK, PLAN)
    held = desk.offers(desk.request("r6"), 500).reserve
    assert held is not None
    assert (held.offer.site, held.offer.told, held.short) == ("north", at(9), 14)


def test_rework_uses_the_reserve() -> None:
    desk = OfferDesk(NETWORK, PLAN)
    rework = replace(desk.request("r6"), rework=True)
    first = desk.offers(rework, 1).offers[0]
    assert (first.station, first.technician, first.told, first.cost) == ("n2", "t1", at(9), 0.0)


def test_a_time_at_which_the_next_booking_would_wait_too_long_is_no_offer() -> None:
    """Planned 15 minutes, but always 20; b is told 9:15 and may wait 4.

    Told 9:00 or 9:05 it would end at 9:20 or later. b ends at 9:35, too late for one told 9:30.
    Told 9:45 it would end at 10:05, after closing.
    """
    network = hall(request("x"), request("b"), days=1, minutes=20)
    plan = booked(network, ("b", at(9, 15)), minutes=15)
    found = OfferDesk(network, plan).offers(network.requests[0], 10)
    assert [offer.told for offer in found.offers] == [at(9, 35), at(9, 40)]


def test_without_promises_every_free_time_is_offered_with_its_chance_of_waiting() -> None:
    network = hall(
        request("x"), request("b"), days=1, minutes=20, policy=replace(LAX, wait_minutes=4)
    )
    plan = booked(network, ("b", at(9, 15)), minutes=15)
    found = OfferDesk(network, plan).offers(network.requests[0], 10)
    assert [(offer.told, offer.p_wait) for offer in found.offers] == [
        (at(9), 0.0), (at(9, 30), 1.0), (at(9, 35), 0.0), (at(9, 40), 0.0), (at(9, 45), 0.0),
    ]  # fmt: skip


def test_cheap_minutes_come_first_among_times_of_the_same_cost() -> None:
    """Two sites would differ in travel; two parts of one day differ in price alone."""
    hours = (Window(at(9), at(9, 20)), Window(at(14), at(14, 20)))
    network = hall(request("x"), days=1)
    site = replace(network.sites[0], open=hours)
    shift = replace(network.technicians[0].shifts[0], end=at(15), break_end=at(15))
    network = replace(
        network, sites=(site,), technicians=(replace(network.technicians[0], shifts=(shift,)),)
    )
    prices = (
        Price("hall", 0, "am", 0.5, 0.25),
        Price("hall", 0, "pm", 0.0, 0.125),
        Price("hall", 0, "day", 0.0, 0.0625),
    )
    found = OfferDesk(network, booked(network, prices=prices)).offers(network.requests[0])
    assert [(o.told, o.level) for o in found.offers] == [(at(14), "quiet"), (at(9), "scarce")]
    assert [o.price for o in found.offers] == pytest.approx([20 * 0.1875, 20 * 0.8125])
    assert "scarce: a minute is worth 0.812 to others" in found.offers[1].why


def test_a_full_day_shows_whom_the_cheapest_displacement_moves() -> None:
    """The first day is full, and x is due on it.

    A free day costs x 3 late + 0.1 wait; moving c, due later, costs only c's wait of 0.1; a and b
    are as late as x would be. Travel is 0.1 for each.
    """
    network = hall(request("x"), request("a"), request("b"), request("c", due=5))
    plan = booked(network, *FIRST_DAY)
    found = OfferDesk(network, plan).offers(network.requests[0], 10)
    assert found.offers[0].cost == pytest.approx(3.2)
    assert all(offer.delay_days == 1 for offer in found.offers)
    assert [item.booking.request for item in found.displaces] == ["c"]
    best = found.displaces[0]
    assert (best.offer.told, best.to.told) == (at(9, 40), at(9, day=1))
    assert best.extra == pytest.approx(0.1)
    assert best.cost == pytest.approx(0.2)
    moved = with_booking(network, without(plan, "c"), as_booking("x", best.offer))
    moved = restated(network, with_booking(network, moved, as_booking("c", best.to)))
    assert verify(network, moved, draws=50, seed=1) == ()
    assert plan.objective - moved.objective == pytest.approx(found.unbooked - best.cost)


def test_a_fixed_appointment_is_never_displaced() -> None:
    stands = Appointment("k", "c", "d0", "t0", at(9, 40), 20, fixed=True)
    network = hall(
        request("x"), request("a"), request("b"), request("c", due=5), appointments=(stands,)
    )
    found = OfferDesk(network, booked(network, *FIRST_DAY)).offers(network.requests[0], 10)
    assert found.displaces == ()


def test_displacing_a_movable_appointment_is_charged_as_a_move() -> None:
    stands = Appointment("k", "c", "d0", "t0", at(9, 40), 20, fixed=False)
    network = hall(
        request("x"), request("a"), request("b"), request("c", due=5), appointments=(stands,)
    )
    found = OfferDesk(network, booked(network, *FIRST_DAY)).offers(network.requests[0], 10)
    assert [item.extra for item in found.displaces] == [pytest.approx(2.1)]


def test_moving_an_appointment_costs_a_move_and_staying_does_not() -> None:
    """Its own booking counts as free: the present time costs the travel of 0.1 alone."""
    stands = Appointment("k", "x", "d0", "t0", at(9, 20), 20, fixed=False)
    network = hall(request("x"), days=1, appointments=(stands,))
    found = OfferDesk(network, booked(network, ("x", at(9, 20)))).offers(network.requests[0], 3)
    assert [(o.told, o.current) for o in found.offers] == [
        (at(9, 20), True), (at(9), False), (at(9, 5), False),
    ]  # fmt: skip
    assert [o.cost for o in found.offers] == pytest.approx([0.1, 2.1, 2.1])
    assert "moves a booked appointment (+2.00)" in found.offers[1].why


def test_a_waiting_list_says_how_likely_somebody_does_not_come() -> None:
    """Three on the first day at 0.3 each: 1 - 0.7^3 = 0.657.

    One on the second day: 0.3, not likely, so not listed.
    """
    network = hall(*(request(name) for name in "xabcd"), no_show=0.3, policy=LAX)
    plan = booked(network, *FIRST_DAY, ("d", at(9, 15, day=1)))
    found = OfferDesk(network, plan).offers(network.requests[0], 10)
    assert [(item.day, item.places) for item in found.waiting_list] == [(0, 3)]
    assert found.waiting_list[0].chance == pytest.approx(0.657)


def test_features_and_skills_that_nobody_asked_for_are_kept_for_others() -> None:
    network = hall(request("x"), days=1, desks=2)
    network = replace(
        network,
        stations=(Station("d0", "hall", ("lift",)), Station("d1", "hall")),
        technicians=(
            Technician("t0", ("signing",), network.technicians[0].shifts),
            network.technicians[1],
        ),
    )
    desk = OfferDesk(network, booked(network))
    plain = desk.offers(network.requests[0], 1).offers[0]
    assert (plain.station, plain.technician) == ("d1", "t1")
    asks = replace(network.requests[0], features=("lift",), skills=("signing",))
    special = desk.offers(asks, 1).offers[0]
    assert (special.station, special.technician) == ("d0", "t0")


def test_a_request_that_the_network_does_not_hold_is_served_like_one_it_does() -> None:
    network = hall(request("a"), days=1)
    desk = OfferDesk(network, booked(network, ("a", at(9))))
    found = desk.offers(request("new", available=(Window(at(9, 33), at(10)),)), 10)
    assert [(o.start, o.told) for o in found.offers] == [
        (at(9, 33), at(9, 30)), (at(9, 35), at(9, 35)), (at(9, 40), at(9, 40)),
    ]  # fmt: skip


def test_an_unknown_id_and_a_fixed_appointment_are_refused_with_a_remedy() -> None:
    desk = OfferDesk(NETWORK, PLAN)
    with pytest.raises(FileRefused, match="no request of the network"):
        desk.request("nobody")
    with pytest.raises(FileRefused, match="has a fixed appointment"):
        desk.offers(desk.request("r1"))


def test_a_plan_of_another_network_is_refused_by_rule() -> None:
    with pytest.raises(FileRefused, match="plan, rule 1"):
        OfferDesk(hall(request("x")), PLAN)
    lengths = {name: value for name, value in PLAN.lengths.items() if name != "learnt"}
    with pytest.raises(FileRefused, match=r"lengths\.learnt"):
        OfferDesk(NETWORK, replace(PLAN, lengths=lengths))


def test_a_spread_keeps_times_apart_and_few_of_each_part_of_a_day() -> None:
    """An hour each day for 20 minutes: told 9:00, 9:05, ... 9:40; of them 15 apart, at most two."""
    network = hall(request("x"))
    desk = OfferDesk(network, booked(network))
    asked = desk.request("x")
    assert len(desk.offers(asked, 50).offers) == 18
    found = desk.offers(asked, 50, spread=(2, 15)).offers
    assert [o.told for o in found] == [at(9), at(9, 15), at(9, day=1), at(9, 15, day=1)]
    found = desk.offers(asked, 50, spread=(9, 20)).offers
    assert [o.told for o in found][:3] == [at(9), at(9, 20), at(9, 40)]


def test_a_person_may_move_a_fixed_appointment_which_no_run_may() -> None:
    stands = Appointment("k", "x", "d0", "t0", at(9, 20), 20, fixed=True)
    network = hall(request("x"), appointments=(stands,))
    desk = OfferDesk(network, booked(network, ("x", at(9, 20))))
    found = desk.offers(desk.request("x"), 50, by_hand=True).offers
    assert [o.told for o in found if o.current] == [at(9, 20)]
    assert at(9, 15) in [o.told for o in found]
