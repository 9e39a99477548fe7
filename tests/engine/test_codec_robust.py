"""Whatever stands in a file, it is read or refused with paths that exist; nothing else happens."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.codec import decode_network, decode_plan, encode_network, encode_plan
from planner.engine.errors import Fault, FileRefused
from tests.engine.samples import network, put, raw_network, steps
from tests.engine.test_codec_plan import raw_plan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

NETWORK = network()
ODD_TEXTS = st.sampled_from(
    [
        "",
        "2026-03-02",
        "2026-03-02T10:00",
        "9999-12-31",
        "0001-01-01T00:00",
        "�",
        "../x",
        "north",
        "usual",
        "r1",
        "n1",
        "t1",
        "am",
        "UTC",
        "٣٠٢٦-03-02",
        "platen-network/1",
        "1e999",
    ]
)
ODD_NUMBERS = st.sampled_from(
    [0, 1, -1, 15.0, 0.5, 10**9, 10**18, 10**400, -(10**4000), 1e308, 5e-324, -0.0]
)
SCALARS = st.none() | st.booleans() | ODD_NUMBERS | st.integers() | ODD_TEXTS | st.text(max_size=5)
VALUES = st.recursive(
    SCALARS | st.floats(allow_nan=False, allow_infinity=False),
    lambda below: (
        st.lists(below, max_size=3)
        | st.dictionaries(st.sampled_from(["id", "site", "from", "to", "x"]) | ODD_TEXTS, below)
    ),
    max_leaves=8,
)


def places(raw: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place in a value, containers included, the top excluded."""
    items: Iterable[tuple[str | int, Any]] = ()
    if isinstance(raw, dict):
        items = raw.items()
    elif isinstance(raw, list):
        items = enumerate(raw)
    below = [(step, (*path, step), item) for step, item in items]
    return [p for _, here, item in below for p in [here, *places(item, here)]]


def change(data: st.DataObject, raw: Any) -> None:
    """Replace, remove, repeat or rename something somewhere in ``raw``."""
    *above, last = data.draw(st.sampled_from(places(raw)))
    for step in above:
        raw = raw[step]
    in_list = isinstance(raw, list)
    how = data.draw(st.sampled_from(["put", "put", "put", "drop", "twice", "rename"]))
    if how == "put":
        raw[last] = data.draw(VALUES)
    elif how == "twice" and in_list:
        raw.append(raw[last])
    elif how == "rename" and not in_list:
        raw[data.draw(ODD_TEXTS | st.just(f"{last}x"))] = raw.pop(last)
    else:
        del raw[last]


def dumped(raw: Any) -> bytes:
    return json.dumps(raw).encode()


def faults_of(decode: Callable[[bytes], object], data: bytes) -> tuple[Fault, ...] | None:
    """The faults that refuse the file, None if it is read."""
    try:
        decode(data)
    except FileRefused as error:
        return error.faults
    return None


def assert_exists(fault: Fault, raw: Any) -> None:
    """The path leads to a value of the file; the last key of a missing one does not."""
    if fault.path == "top level":
        return
    *above, last = steps(fault.path)
    for step in above:
        raw = raw[step]
    there = last in raw if isinstance(raw, dict) else isinstance(last, int) and last < len(raw)
    assert there == (fault.problem != "missing key"), fault
    assert fault.problem
    assert fault.remedy


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_network_changed_anywhere_is_read_or_refused_with_paths_that_exist(
    data: st.DataObject,
) -> None:
    raw = raw_network()
    for _ in range(data.draw(st.integers(1, 4))):
        change(data, raw)
    try:
        read = decode_network(dumped(raw))
    except FileRefused as error:
        for fault in error.faults:
            assert_exists(fault, json.loads(dumped(raw)))
            assert str(fault).encode()
    else:
        assert decode_network(encode_network(read)) == read
        assert encode_network(decode_network(encode_network(read))) == encode_network(read)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_plan_changed_anywhere_is_read_or_refused_with_paths_that_exist(
    data: st.DataObject,
) -> None:
    raw = raw_plan()
    for _ in range(data.draw(st.integers(1, 4))):
        change(data, raw)
    try:
        read = decode_plan(dumped(raw), NETWORK)
    except FileRefused as error:
        for fault in error.faults:
            assert_exists(fault, json.loads(dumped(raw)))
    else:
        assert decode_plan(encode_plan(read, NETWORK), NETWORK) == read


@settings(max_examples=200, deadline=None)
@given(VALUES)
def test_a_file_of_any_json_value_is_refused(value: object) -> None:
    assert faults_of(decode_network, dumped(value))
    assert faults_of(lambda data: decode_plan(data, NETWORK), dumped(value))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=30), st.integers(0, 10_000))
def test_a_file_with_foreign_bytes_in_it_is_read_or_refused(noise: bytes, place: int) -> None:
    text = dumped(raw_network())
    place %= len(text)
    faults = faults_of(decode_network, text[:place] + noise + text[place:])
    assert faults is None or faults


def test_the_way_to_a_value_and_the_text_of_its_path_agree() -> None:
    raw: Any = {"a": [{"b c": [0, 1]}]}
    put(raw, 'a[0]["b c"][1]', 2)
    assert raw == {"a": [{"b c": [0, 2]}]}
