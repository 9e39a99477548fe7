"""What the network format accepts on purpose, and what an absent key stands for."""

from __future__ import annotations

import json
from typing import Any

import pytest

from planner.engine.codec import decode_network
from planner.engine.network import Network, Shift
from planner.engine.units import DAY
from tests.engine.samples import drop, put, raw_network, refused


def decoded(raw: Any) -> Network:
    return decode_network(json.dumps(raw).encode())


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("stations[0].closed[0].to", "2026-03-02T23:00"),
        ("stations[0].closed[0].from", "2025-12-31T23:00"),
        ("requests[0].release", "2025-01-01"),
        ("requests[0].due", "2027-01-01"),
        ("requests[1].available[0].to", "2026-05-02T12:00"),
        ("appointments[0].start", "2026-02-02T10:00"),
        ("appointments[0].start", "2026-03-02T03:00"),
        ("reserve[0].date", "2026-04-01"),
        ("care[0].latest", "2026-09-01"),
        ("care[0].earliest", "2025-09-01"),
        ("sites[0].open", []),
        ("sites[0].name", ""),
        ("technicians[0].shifts", []),
        ("technicians[1].shifts", []),
        ("requests[0].sites", []),
        ("requests[1].available", []),
        ("requests[1].features", ["a room with a view"]),
        ("requests[1].skills", ["none that anybody has"]),
        ("requests[0].profile", "learnt"),
        ("requests[2].unbooked", 0),
        ("requests[2].unbooked", None),
        ("requests[2].sites[1].profile", None),
        ("profiles[0].captures", []),
        ("profiles[0].captures[0].count", 0),
        ("profiles[0].captures[0].retake", 0),
        ("profiles[0].setup", {"mean": 0, "sd": 0}),
        ("profiles[0].setup.mean", 7.25),
        ("profiles[0].no_show", 1),
        ("policy.wait_risk", 0),
        ("policy.overtime_risk", 1),
        ("policy.wait_minutes", 0),
        ("grain", 1),
        ("sites[0].timezone", "UTC"),
        ("sites[0].open[2].to", "2026-03-04T00:00"),
        ("technicians[1].shifts[0].to", "2026-03-03T04:00"),
        ("technicians[0].shifts[0].break_minutes", 120),
        ("technicians[0].shifts[0].break_from", "2026-03-02T08:00"),
    ],
)
def test_it_is_accepted(path: str, value: object) -> None:
    raw = raw_network()
    put(raw, path, value)
    assert refused(raw) == []


def test_a_network_of_empty_lists_is_accepted() -> None:
    raw = raw_network()
    for kind in ("profiles", "sites", "stations", "technicians", "requests"):
        raw[kind] = []
    for kind in ("care", "appointments", "reserve"):
        del raw[kind]
    network = decoded(raw)
    assert (network.requests, network.care) == ((), ())
    assert (network.appointments, network.reserve) == ((), ())


@pytest.mark.parametrize(
    "path",
    [
        "care",
        "appointments",
        "reserve",
        "stations[0].closed",
        "stations[0].features",
        "profiles[1].skills",
        "technicians[0].skills",
        "requests[1].skills",
        "requests[1].features",
        "requests[1].available",
    ],
)
def test_a_list_that_may_be_left_out_is_then_empty(path: str) -> None:
    without, empty = raw_network(), raw_network()
    drop(without, path)
    put(empty, path, [])
    assert decoded(without) == decoded(empty)


def test_other_keys_that_may_be_left_out_have_their_plain_defaults() -> None:
    raw = raw_network()
    for path in ("rework", "unbooked", "sites[1].profile"):
        drop(raw, f"requests[2].{path}")
    request = decoded(raw).requests[2]
    assert (request.rework, request.unbooked, request.sites[1].profile) == (False, None, None)


def test_null_stands_for_absent_where_absence_means_something() -> None:
    raw = raw_network()
    put(raw, "requests[2].unbooked", None)
    put(raw, "requests[2].sites[1].profile", None)
    request = decoded(raw).requests[2]
    assert (request.unbooked, request.sites[1].profile) == (None, None)


def test_an_integral_number_of_minutes_is_taken_as_a_whole_number() -> None:
    raw = raw_network()
    put(raw, "policy.wait_minutes", 15.0)
    assert type(decoded(raw).policy.wait_minutes) is int
    assert decoded(raw) == decoded(raw_network())


@pytest.mark.parametrize(
    ("keys", "window"),
    [
        ({"break_from": "2026-03-02T12:00"}, (720, 1020)),
        ({"break_to": "2026-03-02T14:00"}, (540, 840)),
        ({}, (540, 1020)),
    ],
)
def test_each_bound_of_a_breaks_window_defaults_to_the_shifts(
    keys: dict[str, str], window: tuple[int, int]
) -> None:
    raw = raw_network()
    raw["technicians"][1]["shifts"][0] |= {"break_minutes": 30} | keys
    assert decoded(raw).technicians[1].shifts == (Shift("north", 540, 1020, 30, *window),)


@pytest.mark.parametrize("minutes", [{}, {"break_minutes": 0}])
def test_the_window_of_no_break_is_ignored(minutes: dict[str, int]) -> None:
    raw = raw_network()
    window = {"break_from": "2026-03-05T12:00", "break_to": "2026-03-02T11:00"}
    raw["technicians"][1]["shifts"][0] |= window | minutes
    assert decoded(raw).technicians[1].shifts == (Shift("north", 540, 1020, 0, 540, 1020),)


def test_times_and_dates_are_counted_from_the_first_day() -> None:
    network = decoded(raw_network())
    assert network.sites[0].open[2].start == DAY + 9 * 60
    assert (network.requests[0].release, network.requests[0].due) == (0, 1)
    assert network.reserve[0].day == 0
