"""A network built in Python is held to the same rules, under the same paths, as one from a file."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from planner.engine.errors import FileRefused
from planner.engine.network import Network, Window
from planner.engine.network_rules import network_faults
from tests.engine.samples import network, put, raw_network, refused, steps

NETWORK = network()


def changed(value: Any, path: list[str | int], new: object) -> Any:
    """``value`` with the attribute or item at ``path`` replaced, frozen values and all."""
    if not path:
        return new
    step, *below = path
    if isinstance(step, int):
        return (*value[:step], changed(value[step], below, new), *value[step + 1 :])
    return replace(value, **{step: changed(getattr(value, step), below, new)})


def built_refused(path: str, new: object) -> list[str]:
    with pytest.raises(FileRefused) as refusal:
        changed(NETWORK, steps(path), new)
    return [fault.path for fault in refusal.value.faults]


def test_the_sample_has_no_fault() -> None:
    assert network_faults(NETWORK) == []


@pytest.mark.parametrize(
    ("attribute", "new", "path", "raw"),
    [
        ("grain", 0, "grain", 0),
        ("requests[0].due", -1, "requests[0].due", "2026-03-01"),
        ("sites[0].open[0].end", 540, "sites[0].open[0].to", "2026-03-02T09:00"),
        ("reserve[0].minutes", 0, "reserve[0].minutes", 0),
        ("policy.cost.move", -2, "policy.cost.move", -2),
        ("profiles[1].captures[0].retake", 1, "profiles[1].captures[0].retake", 1),
        ("care[0].latest", -1, "care[0].latest", "2026-03-01"),
        ("sites[1].timezone", "Moon/Base", "sites[1].timezone", "Moon/Base"),
        ("requests[2].sites[1].profile", "x", "requests[2].sites[1].profile", "x"),
        (
            "technicians[0].shifts[0].break_minutes",
            300,
            "technicians[0].shifts[0].break_minutes",
            300,
        ),
        (
            "technicians[0].shifts[0].break_end",
            720,
            "technicians[0].shifts[0].break_to",
            "2026-03-02T12:00",
        ),
    ],
)
def test_a_built_network_is_refused_with_the_faults_of_the_file(
    attribute: str, new: object, path: str, raw: object
) -> None:
    values = raw_network()
    put(values, path, raw)
    from_file = refused(values)
    with pytest.raises(FileRefused) as refusal:
        changed(NETWORK, steps(attribute), new)
    assert list(refusal.value.faults) == from_file
    assert [fault.path for fault in from_file] == [path]


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
@pytest.mark.parametrize(
    "path",
    [
        "requests[0].weight",
        "requests[2].unbooked",
        "policy.cost.late_day",
        "profiles[0].no_show",
        "policy.wait_risk",
        "profiles[0].setup.sd",
        "profiles[0].captures[1].seconds",
    ],
)
def test_a_built_network_holds_finite_numbers_only(path: str, value: float) -> None:
    assert built_refused(path, value) == [path]


@pytest.mark.parametrize("path", ["requests[1].features", "stations[0].features"])
def test_a_built_network_has_no_empty_words(path: str) -> None:
    assert built_refused(path, ("",)) == [f"{path}[0]"]


def test_a_built_network_has_no_empty_ids() -> None:
    assert built_refused("requests[2].id", "") == ["requests[2].id"]


def test_times_beyond_the_years_that_exist_are_still_named_in_the_fault() -> None:
    with pytest.raises(FileRefused) as refusal:
        changed(NETWORK, steps("sites[1].open[0]"), Window(10**12, 10**12))
    assert "minute 1000000000000" in refusal.value.faults[0].problem


def test_a_short_opening_inside_a_long_one_is_found_past_the_one_that_touches_it() -> None:
    windows = (Window(1, 1000), Window(10, 20), Window(30, 40), Window(1000, 1100))
    with pytest.raises(FileRefused) as refusal:
        changed(NETWORK, steps("sites[0].open"), windows)
    paths = [fault.path for fault in refusal.value.faults]
    assert paths == ["sites[0].open[1].from", "sites[0].open[2].from"]


def test_the_network_has_the_attributes_that_the_file_has_keys_for() -> None:
    assert {field.name for field in fields(Network)} == raw_network().keys() - {"format"}
