"""What happens on a day, and in which order."""

from __future__ import annotations

from planner.engine.network import Care, Closure, Site, Station, Window
from planner.engine.plan import Break, CarePlaced
from planner.engine.sessions.things import Thing, closed_things, plan_things
from tests.engine.sessions.build import book, fixed, one_desk

OPEN = (Window(480, 720), Window(780, 1020))


def closed(*times: tuple[int, int]) -> list[tuple[int, int]]:
    station = Station("desk", "site", (), tuple(Closure(a, b, "repair") for a, b in times))
    things = closed_things(Site("site", "Site", "UTC", OPEN), station, 4)
    assert all(t.own == t.order and t.station == 4 and t.technician == -1 for t in things)
    return [(t.own, t.minutes) for t in things]


def test_closed_times_are_clipped_to_each_opening_time() -> None:
    assert closed((700, 800)) == [(700, 20), (780, 20)]
    assert closed((0, 2000)) == [(480, 240), (780, 240)]
    assert closed((500, 510)) == [(500, 10)]


def test_closed_times_outside_opening_hours_do_not_happen() -> None:
    assert closed((400, 480), (720, 780), (1020, 1100)) == []


def test_closed_times_that_overlap_all_happen() -> None:
    assert closed((500, 540), (510, 560)) == [(500, 40), (510, 50)]


def test_a_plan_happens_in_order_of_planned_start() -> None:
    network = one_desk(
        (fixed(20),),
        {"a": "fixed", "b": "fixed"},
        closed=(Closure(600, 630, "calibration"),),
        care=(Care("clean", "desk", 15, 0, 0, True), Care("dust", "desk", 5, 0, 0, False)),
    )
    things = plan_things(
        network,
        [book("b", 523), book("a", 500)],
        [CarePlaced("clean", 480, "tech"), CarePlaced("dust", 700)],
        [Break("tech", 560, 30)],
    )
    assert things == [
        Thing(480, 480, 0, 0, 15, "", ""),
        Thing(500, 500, 0, 0, 0, "a", "fixed"),
        Thing(523, 520, 0, 0, 0, "b", "fixed"),
        Thing(560, 560, -1, 0, 30, "", ""),
        Thing(600, 600, 0, -1, 30, "", ""),
        Thing(700, 700, 0, -1, 5, "", ""),
    ]


def test_things_that_name_nothing_known_are_left_out() -> None:
    network = one_desk((fixed(20),), {"a": "fixed"})
    stranger = book("a", 500)
    things = plan_things(
        network,
        [book("nobody", 480), type(stranger)("a", "site", "nowhere", "tech", 500, 500, 20, 0.0)],
        [CarePlaced("unknown", 480)],
        [Break("nobody", 480, 30)],
    )
    assert things == []
