"""Refusals by value: one change to the sound sample, one fault, at the path of the change."""

from __future__ import annotations

import json

import pytest

from planner.engine.codec import decode_network
from tests.engine.samples import assert_refused_alone, put, raw_network, refused

SHIFT = "technicians[0].shifts[0]"
NOT_NEGATIVE = [
    "policy.wait_minutes",
    "policy.overtime_minutes",
    "policy.cost.unbooked",
    "policy.cost.late_day",
    "policy.cost.wait_day",
    "policy.cost.travel_minute",
    "policy.cost.move",
    "profiles[0].setup.mean",
    "profiles[0].setup.sd",
    "profiles[0].captures[0].count",
    "profiles[0].captures[0].seconds",
    "profiles[0].remedy_seconds",
    "profiles[0].wrapup",
    "technicians[0].shifts[0].break_minutes",
    "requests[0].sites[0].travel",
    "requests[2].unbooked",
]
ABOVE_ZERO = [
    "grain",
    "days",
    "profiles[0].max_attempts",
    "care[0].minutes",
    "requests[0].weight",
    "appointments[0].minutes",
    "reserve[0].minutes",
]
PROBABILITIES = [
    "policy.wait_risk",
    "policy.overtime_risk",
    "profiles[0].no_show",
    "profiles[0].captures[0].retake",
]
REFERENCES = [
    "stations[2].site",
    "technicians[0].shifts[0].site",
    "care[0].station",
    "requests[0].profile",
    "requests[0].sites[0].site",
    "requests[2].sites[1].profile",
    "appointments[0].request",
    "appointments[0].station",
    "appointments[0].technician",
    "reserve[0].site",
]


@pytest.mark.parametrize("value", ["flat", "Plain", ""])
def test_an_unknown_kind_of_capture_is_refused(value: str) -> None:
    assert_refused_alone("profiles[0].captures[0].kind", value, "no kind of capture")


@pytest.mark.parametrize(
    ("path", "twice"),
    [
        ("profiles[1].id", "usual"),
        ("sites[1].id", "north"),
        ("stations[1].id", "n1"),
        ("technicians[1].id", "t1"),
        ("requests[2].id", "r1"),
        ("appointments[1].id", "a1"),
    ],
)
def test_an_id_given_twice_is_refused(path: str, twice: str) -> None:
    raw = raw_network()
    put(raw, path, twice)
    # The records that named the id that is gone are refused as well.
    assert [f.problem for f in refused(raw) if f.path == path] == [
        f'"{twice}" is given twice, first in {path.partition("[")[0]}[0]'
    ]


def test_a_care_id_given_twice_is_refused() -> None:
    raw = raw_network()
    raw["care"] *= 2
    assert [fault.path for fault in refused(raw)] == ["care[1].id"]


@pytest.mark.parametrize("path", REFERENCES)
def test_a_reference_to_an_id_that_does_not_exist_is_refused(path: str) -> None:
    assert_refused_alone(path, "nobody", '"nobody" is no id in')


@pytest.mark.parametrize("path", NOT_NEGATIVE)
def test_negative_times_costs_and_travel_are_refused(path: str) -> None:
    assert_refused_alone(path, -1, "-1 is not at least 0")


@pytest.mark.parametrize("path", ABOVE_ZERO)
@pytest.mark.parametrize("value", [0, -5])
def test_what_must_be_above_zero_is_refused_at_zero(path: str, value: int) -> None:
    assert_refused_alone(path, value, f"{value} is not above 0")


@pytest.mark.parametrize("path", PROBABILITIES)
@pytest.mark.parametrize("value", [-0.01, 1.01, 8])
def test_a_probability_outside_0_and_1_is_refused(path: str, value: float) -> None:
    assert_refused_alone(path, value, f"{value} is not within [0, 1]")


def test_a_retake_of_one_is_refused() -> None:
    assert_refused_alone("profiles[0].captures[0].retake", 1, "1 means that no capture ever")


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("sites[0].open[0].to", "2026-03-02T09:00", "not after `from`"),
        ("stations[0].closed[0].to", "2026-03-02T11:00", "not after `from`"),
        ("technicians[1].shifts[0].to", "2026-03-02T09:00", "not after `from`"),
        ("requests[1].available[0].to", "2026-03-01T09:00", "not after `from`"),
        (f"{SHIFT}.break_to", "2026-03-02T12:00", "not after the start of the break's window"),
        (f"{SHIFT}.break_minutes", 121, "do not fit the 120"),
        ("sites[0].open[2].to", "2026-03-04T00:01", "on a later day"),
        ("sites[0].open[1].from", "2026-03-02T12:59", "overlaps open[0]"),
        ("requests[0].due", "2026-03-01", "2026-03-01 is before `release` (2026-03-02)"),
        ("care[0].latest", "2026-03-01", "before `earliest`"),
        ("sites[0].timezone", "Europe/Madird", "no time zone"),
        ("sites[0].timezone", "../UTC", "no time zone"),
        ("sites[0].timezone", "/etc/localtime", "no time zone"),
        ("sites[0].timezone", "localtime", "no time zone"),
        ("sites[0].timezone", "Europe", "no time zone"),
        ("days", 2_920_000, "past the year 9999"),
        ("appointments[1].request", "r1", "has appointments[0] already"),
        ("appointments[0].station", "s1", "no site of the request"),
        ("requests[2].sites[1].site", "south", "given twice, first in sites[0]"),
    ],
)
def test_values_that_contradict_each_other_are_refused(
    path: str, value: object, words: str
) -> None:
    raw = raw_network()
    put(raw, path, value)
    assert [words in fault.problem for fault in refused(raw) if fault.path == path] == [True]


@pytest.mark.parametrize(
    ("earliest", "latest", "path"),
    [
        ("2026-02-01", "2026-03-01", "care[0].latest"),
        ("2026-03-04", "2026-03-09", "care[0].earliest"),
    ],
)
def test_a_care_window_wholly_outside_the_horizon_is_refused(
    earliest: str, latest: str, path: str
) -> None:
    raw = raw_network()
    raw["care"][0] |= {"earliest": earliest, "latest": latest}
    (fault,) = refused(raw)
    assert (fault.path, "horizon" in fault.problem) == (path, True)


def test_a_break_that_fits_its_window_but_not_what_the_shift_leaves_of_it_is_refused() -> None:
    raw = raw_network()
    raw["technicians"][0]["shifts"][0] |= {
        "break_from": "2026-03-02T16:40",
        "break_to": "2026-03-02T18:00",
    }
    (fault,) = refused(raw)
    assert fault.path == f"{SHIFT}.break_minutes"
    assert "30 minutes do not fit the 20" in fault.problem


def test_a_break_longer_than_its_shift_is_refused() -> None:
    assert_refused_alone("technicians[1].shifts[0].break_minutes", 481, "do not fit the 480")


def test_an_appointment_of_a_technician_who_never_works_at_the_stations_site_is_refused() -> None:
    raw = raw_network()
    raw["appointments"][0] |= {"request": "r3", "station": "s1"}
    (fault,) = refused(raw)
    assert (fault.path, "no shift at" in fault.problem) == ("appointments[0].technician", True)


def test_who_lost_the_only_shift_at_a_site_may_keep_an_appointment_that_will_move() -> None:
    """An absence may take it. They are of another site only while they work at one."""
    raw = raw_network()
    raw["appointments"][1] |= {"request": "r3", "station": "s1"}
    raw["technicians"][0]["shifts"].pop()
    (fault,) = refused(raw)
    assert fault.path == "appointments[1].technician"
    raw["appointments"][1]["start"] = "2026-03-03T10:00"
    assert decode_network(json.dumps(raw).encode()).appointments[1].station == "s1"
    raw["appointments"][1]["fixed"] = True
    (fault,) = refused(raw)
    assert fault.path == "appointments[1].technician"


def test_overlapping_shifts_of_one_technician_are_refused() -> None:
    raw = raw_network()
    again = {"site": "north", "from": "2026-03-02T16:59", "to": "2026-03-02T18:00"}
    raw["technicians"][0]["shifts"].append(again)
    (fault,) = refused(raw)
    assert fault.path == "technicians[0].shifts[2].from"
    assert "overlaps shifts[0]" in fault.problem


def test_shifts_of_one_date_in_two_time_zones_are_refused() -> None:
    raw = raw_network()
    later = {"site": "south", "from": "2026-03-02T19:00", "to": "2026-03-02T21:00"}
    raw["technicians"][0]["shifts"].insert(0, later)
    (fault,) = refused(raw)
    assert fault.path == "technicians[0].shifts[1].site"
    assert "is in Europe/Madrid, but shifts[0] of the same date is not" in fault.problem


def test_a_second_reserve_for_a_site_and_day_is_refused() -> None:
    raw = raw_network()
    raw["reserve"] *= 2
    (fault,) = refused(raw)
    assert (fault.path, "given twice" in fault.problem) == ("reserve[1].date", True)


def test_a_setup_that_varies_about_a_mean_of_zero_is_refused() -> None:
    raw = raw_network()
    raw["profiles"][0]["setup"] = {"mean": 0, "sd": 1}
    assert [fault.path for fault in refused(raw)] == ["profiles[0].setup.sd"]
