"""Refusals by shape: one change to the sound sample, one fault, at the path of the change."""

from __future__ import annotations

import pytest

from tests.engine.samples import assert_refused_alone, drop, put, raw_network, refused

SHIFT = "technicians[0].shifts[0]"
RECORDS = [
    "policy",
    "policy.cost",
    "profiles[0]",
    "profiles[0].setup",
    "profiles[0].captures[0]",
    "sites[0]",
    "sites[0].open[0]",
    "stations[0]",
    "stations[0].closed[0]",
    "technicians[0]",
    "technicians[0].shifts[0]",
    "care[0]",
    "requests[0]",
    "requests[0].sites[0]",
    "requests[1].available[0]",
    "appointments[0]",
    "reserve[0]",
]
REQUIRED = {
    "": "format grain first_day days policy profiles sites stations technicians requests",
    "policy": "wait_minutes wait_risk overtime_minutes overtime_risk cost",
    "policy.cost": "unbooked late_day wait_day travel_minute move",
    "profiles[0]": "id setup captures max_attempts remedy_seconds wrapup no_show",
    "profiles[0].setup": "mean sd",
    "profiles[0].captures[0]": "kind count seconds retake",
    "sites[0]": "id name timezone open",
    "sites[0].open[0]": "from to",
    "stations[0]": "id site",
    "stations[0].closed[0]": "from to why",
    "technicians[0]": "id shifts",
    SHIFT: "site from to",
    "care[0]": "id station minutes earliest latest technician",
    "requests[0]": "id profile release due weight sites",
    "requests[0].sites[0]": "site travel",
    "requests[1].available[0]": "from to",
    "appointments[0]": "id request station technician start minutes fixed",
    "reserve[0]": "site date minutes",
}
MISSING = [
    f"{record}.{key}".lstrip(".") for record, keys in REQUIRED.items() for key in keys.split()
]
LISTS = [
    "profiles",
    "profiles[0].captures",
    "profiles[1].skills",
    "sites",
    "sites[0].open",
    "stations",
    "stations[0].features",
    "stations[0].closed",
    "technicians",
    "technicians[0].skills",
    "technicians[0].shifts",
    "care",
    "requests",
    "requests[0].sites",
    "requests[1].available",
    "requests[1].features",
    "requests[1].skills",
    "appointments",
    "reserve",
]
WHOLE = [
    "grain",
    "days",
    "policy.wait_minutes",
    "policy.overtime_minutes",
    "profiles[0].captures[0].count",
    "profiles[0].max_attempts",
    "profiles[0].wrapup",
    "technicians[0].shifts[0].break_minutes",
    "care[0].minutes",
    "requests[0].sites[0].travel",
    "appointments[0].minutes",
    "reserve[0].minutes",
]
NUMBERS = [
    "policy.wait_risk",
    "policy.overtime_risk",
    "policy.cost.unbooked",
    "policy.cost.late_day",
    "policy.cost.wait_day",
    "policy.cost.travel_minute",
    "policy.cost.move",
    "profiles[0].setup.mean",
    "profiles[0].setup.sd",
    "profiles[0].captures[0].seconds",
    "profiles[0].captures[0].retake",
    "profiles[0].remedy_seconds",
    "profiles[0].no_show",
    "requests[0].weight",
    "requests[2].unbooked",
]
NAMES = [
    "profiles[0].id",
    "sites[0].id",
    "sites[0].timezone",
    "stations[0].id",
    "stations[0].site",
    "stations[0].features[0]",
    "technicians[0].id",
    "technicians[0].skills[0]",
    "technicians[0].shifts[0].site",
    "care[0].id",
    "care[0].station",
    "requests[0].id",
    "requests[0].profile",
    "requests[0].sites[0].site",
    "requests[2].sites[1].profile",
    "requests[1].features[0]",
    "requests[1].skills[0]",
    "appointments[0].id",
    "appointments[0].request",
    "appointments[0].station",
    "appointments[0].technician",
    "reserve[0].site",
]
DATES = [
    "first_day",
    "care[0].earliest",
    "care[0].latest",
    "requests[0].release",
    "requests[0].due",
    "reserve[0].date",
]
TIMES = [
    *("sites[0].open[0].from", "sites[0].open[0].to"),
    *("stations[0].closed[0].from", "stations[0].closed[0].to"),
    *(f"{SHIFT}.from", f"{SHIFT}.to", f"{SHIFT}.break_from", f"{SHIFT}.break_to"),
    *("requests[1].available[0].from", "requests[1].available[0].to", "appointments[0].start"),
]
TRUTHS = ["care[0].technician", "requests[2].rework", "appointments[0].fixed"]


def test_the_sample_itself_is_accepted() -> None:
    assert refused(raw_network()) == []


@pytest.mark.parametrize("record", ["", *RECORDS])
def test_an_unknown_key_is_refused(record: str) -> None:
    assert_refused_alone(f"{record}.duee".lstrip("."), 1, "unknown key")


def test_an_unknown_key_comes_with_the_key_that_was_probably_meant() -> None:
    raw = raw_network()
    put(raw, "requests[1].duee", raw["requests"][1].pop("due"))
    faults = {fault.path: fault for fault in refused(raw)}
    assert str(faults["requests[1].duee"]) == "requests[1].duee: unknown key; did you mean `due`?"
    assert faults["requests[1].due"].problem == "missing key"


@pytest.mark.parametrize("path", MISSING)
def test_a_missing_key_is_refused(path: str) -> None:
    raw = raw_network()
    drop(raw, path)
    assert [(fault.path, fault.problem) for fault in refused(raw)] == [(path, "missing key")]


@pytest.mark.parametrize("record", RECORDS)
@pytest.mark.parametrize("value", [None, 5, "text", [], True])
def test_a_record_that_is_no_object_is_refused(record: str, value: object) -> None:
    assert_refused_alone(record, value, "not an object")


@pytest.mark.parametrize("path", LISTS)
@pytest.mark.parametrize("value", [None, 5, "text", {}, False])
def test_a_list_that_is_no_list_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a list")


@pytest.mark.parametrize("path", WHOLE)
@pytest.mark.parametrize("value", [None, "5", True, 15.5, [5], {}, 2_000_000_000])
def test_a_whole_number_that_is_none_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a whole number")


@pytest.mark.parametrize("path", NUMBERS)
@pytest.mark.parametrize("value", ["5", True, [5], {}])
def test_a_number_that_is_none_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a finite number")


@pytest.mark.parametrize("path", sorted(set(NUMBERS) - {"requests[2].unbooked"}))
def test_null_is_no_number(path: str) -> None:
    assert_refused_alone(path, None, "null is not a finite number")


@pytest.mark.parametrize("path", NAMES)
@pytest.mark.parametrize("value", ["", 5, True, ["a"], {}, "\ud800"])
def test_a_name_that_is_no_text_or_empty_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a non-empty text")


@pytest.mark.parametrize("path", ["sites[0].name", "stations[0].closed[0].why"])
@pytest.mark.parametrize("value", [None, 5, True, [], "\udfff"])
def test_a_text_that_is_none_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a text")


@pytest.mark.parametrize("path", TRUTHS)
@pytest.mark.parametrize("value", [None, 0, 1, "true", []])
def test_a_truth_that_is_none_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not true or false")


@pytest.mark.parametrize("path", DATES)
@pytest.mark.parametrize(
    "value", ["2026-02-30", "2026-13-01", "0000-01-01", "2026-3-2", "20260302", "", None, 5, []]
)
def test_a_date_that_does_not_exist_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a date that exists")


@pytest.mark.parametrize("path", TIMES)
@pytest.mark.parametrize(
    "value",
    [
        "2026-02-29T09:00",
        "2026-03-02T24:00",
        "2026-03-02T09:60",
        "2026-03-02 09:00",
        "2026-03-02T09:00Z",
        "2026-03-02T09:00:00",
        "2026-03-02",
        "",
        None,
        5,
        {},
    ],
)
def test_a_time_that_does_not_exist_is_refused(path: str, value: object) -> None:
    assert_refused_alone(path, value, "not a time that exists")


@pytest.mark.parametrize("value", ["platen-network/2", "platen-plan/1", "", None, 1])
def test_an_unknown_format_is_refused(value: object) -> None:
    assert_refused_alone("format", value, 'not "platen-network/1"')


@pytest.mark.parametrize("value", [None, True, 5, 0.5, "text", [], [[]]])
def test_a_file_that_is_no_object_is_refused_at_the_top(value: object) -> None:
    assert "top level" in [fault.path for fault in refused(value)]
