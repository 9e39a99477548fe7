"""A small sound network, as the file's values and as typed value, for tests to reuse and change."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from planner.engine.codec import decode_network
from planner.engine.errors import FileRefused

if TYPE_CHECKING:
    from planner.engine.errors import Fault
    from planner.engine.network import Network


def raw_network() -> dict[str, Any]:
    """A new copy of the sample: two sites in two zones, two days, every optional key used once."""
    return {
        "format": "platen-network/1",
        "grain": 5,
        "first_day": "2026-03-02",
        "days": 2,
        "policy": {
            "wait_minutes": 15,
            "wait_risk": 0.1,
            "overtime_minutes": 20,
            "overtime_risk": 0.05,
            "cost": {
                "unbooked": 30,
                "late_day": 3,
                "wait_day": 0.1,
                "travel_minute": 0.01,
                "move": 2,
            },
        },
        "profiles": [
            _profile("usual", 0.16),
            _profile("learnt", 0.2, skills=["difficult_capture"]),
        ],
        "sites": [
            {
                "id": "north",
                "name": "North Hall",
                "timezone": "Europe/Madrid",
                "open": [
                    {"from": "2026-03-02T09:00", "to": "2026-03-02T13:00"},
                    {"from": "2026-03-02T13:00", "to": "2026-03-02T17:00"},
                    {"from": "2026-03-03T09:00", "to": "2026-03-03T17:00"},
                ],
            },
            {
                "id": "south",
                "name": "South Quay",
                "timezone": "Atlantic/Canary",
                "open": [{"from": "2026-03-03T09:00", "to": "2026-03-03T17:00"}],
            },
        ],
        "stations": [
            {
                "id": "n1",
                "site": "north",
                "features": ["accessible"],
                "closed": [
                    {"from": "2026-03-02T12:00", "to": "2026-03-02T12:30", "why": "calibration"}
                ],
            },
            {"id": "n2", "site": "north"},
            {"id": "s1", "site": "south"},
        ],
        "technicians": [
            {
                "id": "t1",
                "skills": ["difficult_capture"],
                "shifts": [
                    {
                        "site": "north",
                        "from": "2026-03-02T09:00",
                        "to": "2026-03-02T17:00",
                        "break_minutes": 30,
                        "break_from": "2026-03-02T12:00",
                        "break_to": "2026-03-02T14:00",
                    },
                    {"site": "south", "from": "2026-03-03T09:00", "to": "2026-03-03T17:00"},
                ],
            },
            {
                "id": "t2",
                "shifts": [{"site": "north", "from": "2026-03-02T09:00", "to": "2026-03-02T17:00"}],
            },
        ],
        "care": [
            {
                "id": "c1",
                "station": "n2",
                "minutes": 20,
                "earliest": "2026-03-02",
                "latest": "2026-03-03",
                "technician": True,
            }
        ],
        "requests": [
            _request("r1", "north", 20),
            _request("r2", "north", 0, features=["accessible"], skills=["difficult_capture"])
            | {"available": [{"from": "2026-03-02T09:00", "to": "2026-03-02T12:00"}]},
            _request("r3", "south", 35, rework=True, unbooked=60)
            | {"sites": [{"site": "south", "travel": 35}, _learnt("north", 50)]},
        ],
        "appointments": [
            {
                "id": "a1",
                "request": "r1",
                "station": "n1",
                "technician": "t2",
                "start": "2026-03-02T10:00",
                "minutes": 20,
                "fixed": True,
            },
            {
                "id": "a2",
                "request": "r2",
                "station": "n2",
                "technician": "t1",
                "start": "2026-03-02T10:00",
                "minutes": 20,
                "fixed": False,
            },
        ],
        "reserve": [{"site": "north", "date": "2026-03-02", "minutes": 60}],
    }


def network() -> Network:
    """The sample as typed value."""
    return decode_network(json.dumps(raw_network()).encode())


def steps(path: str) -> list[str | int]:
    """The keys and indices of a fault's path: ``requests[17].due`` or ``prices[0]["a b"]``."""
    found = re.findall(r'\.?([A-Za-z_][\w:-]*)|\[(\d+)\]|\[("(?:[^"\\]|\\.)*")\]', path)
    return [int(i) if i else json.loads(quoted) if quoted else key for key, i, quoted in found]


def put(raw: Any, path: str, value: object) -> None:
    """Set the value at ``path`` of the file's values, a new key or the end of a list included."""
    *above, last = steps(path)
    for step in above:
        raw = raw[step]
    if isinstance(raw, list) and last == len(raw):
        raw.append(value)
    else:
        raw[last] = value


def drop(raw: Any, path: str) -> None:
    """Remove the key or item at ``path`` of the file's values."""
    *above, last = steps(path)
    for step in above:
        raw = raw[step]
    del raw[last]


def refused(raw: object) -> list[Fault]:
    """The faults that refuse a network file of these values; an empty list if it is accepted."""
    try:
        decode_network(json.dumps(raw).encode())
    except FileRefused as error:
        return list(error.faults)
    return []


def assert_refused_alone(path: str, value: object, *words: str) -> None:
    """The sample with ``value`` at ``path`` has one fault, there, and its text holds the words."""
    raw = raw_network()
    put(raw, path, value)
    (fault,) = refused(raw)
    assert fault.path == path
    assert all(word in fault.problem for word in words), fault
    assert fault.remedy


def _profile(name: str, retake: float, **further: object) -> dict[str, Any]:
    return {
        "id": name,
        "setup": {"mean": 7, "sd": 3},
        "captures": [
            {"kind": "plain", "count": 3, "seconds": 20, "retake": 0.1},
            {"kind": "rolled", "count": 10, "seconds": 25, "retake": retake},
        ],
        "max_attempts": 3,
        "remedy_seconds": 30,
        "wrapup": 3,
        "no_show": 0.08,
    } | further


def _request(name: str, site: str, travel: int, **further: object) -> dict[str, Any]:
    return {
        "id": name,
        "profile": "usual",
        "release": "2026-03-02",
        "due": "2026-03-03",
        "weight": 1,
        "sites": [{"site": site, "travel": travel}],
    } | further


def _learnt(site: str, travel: int) -> dict[str, Any]:
    return {"site": site, "travel": travel, "profile": "learnt"}
