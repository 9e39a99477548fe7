"""The plan file: refused by shape only, and written so that two runs can be compared."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine import plan as model
from planner.engine.codec import decode_plan, encode_plan
from planner.engine.errors import Fault, FileRefused
from tests.engine.samples import drop, network, put

NETWORK = network()


def raw_plan() -> dict[str, Any]:
    """A new copy of a plan file's values that uses every key; names need not exist."""
    reason = {"code": "full", "detail": "no room before it is due", "remedy": "add a shift"}
    return {
        "format": "platen-plan/1",
        "bookings": [
            {
                "request": "r1",
                "site": "north",
                "station": "n1",
                "technician": "t2",
                "start": "2026-03-02T10:03",
                "told": "2026-03-02T10:00",
                "minutes": 20,
                "p_wait": 0.04,
            }
        ],
        "care": [
            {"care": "c1", "start": "2026-03-02T16:00", "technician": "t1"},
            {"care": "c2", "start": "2026-03-02T16:30"},
        ],
        "care_unplaced": [{"care": "c3", "reason": "closed all day"}],
        "breaks": [{"technician": "t1", "start": "2026-03-02T12:00", "minutes": 30}],
        "unbooked": [{"request": "r2", "reasons": [reason]}],
        "moved": ["a2"],
        "lengths": {"usual": 18, "learnt": 22},
        "objective": 31.5,
        "bound": 30,
        "gap": 0.05,
        "prices": [
            {
                "site": "north",
                "date": "2026-03-03",
                "part": "am",
                "station_minute": 0.25,
                "technician_minute": 0,
                "station_minute:accessible": 0.5,
                "technician_minute:difficult_capture": 1.5,
            }
        ],
        "seconds": {"allocate": 0.5, "timetable": 2},
    }


def decoded(raw: Any) -> model.Plan:
    return decode_plan(json.dumps(raw).encode(), NETWORK)


def refused(raw: Any) -> list[Fault]:
    with pytest.raises(FileRefused) as refusal:
        decoded(raw)
    return list(refusal.value.faults)


def test_every_key_of_the_plan_file_is_read_into_its_place() -> None:
    plan = decoded(raw_plan())
    assert plan.bookings == (model.Booking("r1", "north", "n1", "t2", 603, 600, 20, 0.04),)
    assert plan.care == (model.CarePlaced("c1", 960, "t1"), model.CarePlaced("c2", 990, None))
    assert plan.care_unplaced == (model.CareUnplaced("c3", "closed all day"),)
    assert plan.breaks == (model.Break("t1", 720, 30),)
    assert plan.unbooked[0].reasons[0].code == "full"
    assert (plan.moved, plan.lengths) == (("a2",), {"usual": 18, "learnt": 22})
    assert (plan.objective, plan.bound, plan.gap) == (31.5, 30.0, 0.05)
    skilled, featured = (("difficult_capture", 1.5),), (("accessible", 0.5),)
    assert plan.prices == (model.Price("north", 1, "am", 0.25, 0.0, skilled, featured),)
    assert plan.seconds == {"allocate": 0.5, "timetable": 2.0}


def test_a_written_plan_holds_the_values_of_the_file_it_was_read_from() -> None:
    assert json.loads(encode_plan(decoded(raw_plan()), NETWORK)) == raw_plan()


def test_a_plan_without_a_gap_has_null_there() -> None:
    plan = replace(decoded(raw_plan()), bound=0.0, gap=None)
    data = encode_plan(plan, NETWORK)
    assert b'"gap": null' in data
    assert decode_plan(data, NETWORK) == plan


def test_names_that_the_network_does_not_hold_are_left_to_the_judge_of_plans() -> None:
    raw = raw_plan()
    for key in ("request", "site", "station", "technician"):
        raw["bookings"][0][key] = "nobody"
    raw["prices"][0]["site"] = raw["breaks"][0]["technician"] = raw["moved"][0] = "nobody"
    assert decoded(raw).bookings[0].station == "nobody"


def test_two_runs_that_differ_in_seconds_differ_in_the_last_line_of_values_only() -> None:
    plan = decoded(raw_plan())
    one = encode_plan(plan, NETWORK).splitlines()
    other = encode_plan(replace(plan, seconds={"allocate": 9.75}), NETWORK).splitlines()
    assert one[:-2] == other[:-2]
    assert one[-2].startswith(b'  "seconds": ')
    assert one[-2] != other[-2]
    assert one[-1] == other[-1] == b"}"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_json_cannot_hold_is_not_written(value: float) -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        encode_plan(replace(decoded(raw_plan()), objective=value), NETWORK)


@pytest.mark.parametrize("key", raw_plan())
def test_a_missing_key_is_refused(key: str) -> None:
    raw = raw_plan()
    drop(raw, key)
    assert [(fault.path, fault.problem) for fault in refused(raw)] == [(key, "missing key")]


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("format", "platen-network/1", 'not "platen-plan/1"'),
        ("colour", 1, "unknown key"),
        ("bookings", {}, "not a list"),
        ("bookings[0]", 5, "not an object"),
        ("bookings[0].request", "", "not a non-empty text"),
        ("bookings[0].start", "2026-03-02", "not a time that exists"),
        ("bookings[0].told", 600, "not a time that exists"),
        ("bookings[0].minutes", 20.5, "not a whole number"),
        ("bookings[0].minutes", True, "not a whole number"),
        ("bookings[0].p_wait", 1.5, "not within [0, 1]"),
        ("bookings[0].p_wait", "low", "not a finite number"),
        ("bookings[0].wait", 1, "unknown key"),
        ("care[0].technician", None, "not a non-empty text"),
        ("care_unplaced[0].reason", None, "not a text"),
        ("breaks[0].minutes", "30", "not a whole number"),
        ("unbooked[0].reasons", None, "not a list"),
        ("unbooked[0].reasons[0].code", "", "not a non-empty text"),
        ("moved[0]", 2, "not a non-empty text"),
        ("lengths", [], "not an object"),
        ("lengths.usual", 17.5, "not a whole number"),
        ("lengths.usual", 0, "not above 0"),
        ("objective", None, "not a finite number"),
        ("bound", None, "not a finite number"),
        ("gap", "small", "not a finite number"),
        ("prices[0].part", "noon", 'not "am" or "pm" or "day"'),
        ("prices[0].date", "2026-02-30", "not a date that exists"),
        ("prices[0].station_minute", None, "not a finite number"),
        ("prices[0].station_minute:accessible", "dear", "not a finite number"),
        ("prices[0].technician_minute:", 1, "unknown key"),
        ("prices[0].minute:accessible", 1, "unknown key"),
        ("seconds", 5, "not an object"),
        ("seconds.allocate", "fast", "not a finite number"),
    ],
)
def test_a_value_of_the_wrong_shape_is_refused(path: str, value: object, words: str) -> None:
    raw = raw_plan()
    put(raw, path, value)
    (fault,) = refused(raw)
    assert fault.path == path
    assert words in fault.problem
    assert fault.remedy


def test_all_faults_of_a_plan_are_listed_in_the_order_of_the_file() -> None:
    raw = raw_plan()
    put(raw, "seconds.allocate", None)
    put(raw, "bookings[0].p_wait", -1)
    drop(raw, "bookings[0].told")
    put(raw, "gap", [])
    paths = ["bookings[0].p_wait", "bookings[0].told", "gap", "seconds.allocate"]
    assert [fault.path for fault in refused(raw)] == paths


names = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=6)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
minutes = st.integers(-10_000, 40_000)
numbers = st.floats(allow_nan=False, allow_infinity=False)
words = st.dictionaries(names, numbers, max_size=2).map(lambda items: tuple(items.items()))
plans = st.builds(
    model.Plan,
    bookings=st.lists(
        st.builds(
            model.Booking,
            *[names] * 4,
            start=minutes,
            told=minutes,
            minutes=st.integers(1, 500),
            p_wait=st.floats(0, 1),
        ),
        max_size=3,
    ).map(tuple),
    care=st.lists(st.builds(model.CarePlaced, names, minutes, st.none() | names), max_size=2).map(
        tuple
    ),
    care_unplaced=st.lists(st.builds(model.CareUnplaced, names, texts), max_size=2).map(tuple),
    breaks=st.lists(st.builds(model.Break, names, minutes, st.integers(1, 90)), max_size=2).map(
        tuple
    ),
    unbooked=st.lists(
        st.builds(
            model.Unbooked,
            names,
            st.lists(st.builds(model.Reason, names, texts, texts), max_size=2).map(tuple),
        ),
        max_size=2,
    ).map(tuple),
    moved=st.lists(names, max_size=2).map(tuple),
    lengths=st.dictionaries(names, st.integers(1, 90), max_size=2),
    objective=numbers,
    bound=numbers,
    gap=st.none() | numbers,
    prices=st.lists(
        st.builds(
            model.Price,
            names,
            st.integers(-5, 30),
            st.sampled_from(["am", "pm", "day"]),
            numbers,
            numbers,
            words,
            words,
        ),
        max_size=2,
    ).map(tuple),
    seconds=st.dictionaries(names, numbers, max_size=2),
)


@settings(deadline=None)
@given(plans)
def test_any_plan_is_read_back_as_it_was_written(plan: model.Plan) -> None:
    data = encode_plan(plan, NETWORK)
    assert decode_plan(data, NETWORK) == plan
    assert encode_plan(decode_plan(data, NETWORK), NETWORK) == data
    assert data.endswith(b"}\n")
