"""What is not JSON is refused once, by line and column. Grammar: RFC 8259, from memory."""

from __future__ import annotations

import json

import pytest

from planner.engine.codec import decode_network, decode_plan
from planner.engine.errors import Fault, FileRefused
from tests.engine.samples import network, raw_network


def only_fault(data: bytes) -> Fault:
    with pytest.raises(FileRefused) as refusal:
        decode_network(data)
    (fault,) = refusal.value.faults
    return fault


@pytest.mark.parametrize(
    ("data", "path"),
    [
        (b"", "line 1, column 1"),
        (b"hello", "line 1, column 1"),
        (b'{"grain": 5,}', "line 1, column 13"),
        (b'{"grain": 5\n "days": 2}', "line 2, column 2"),
        (b'{"grain": 5}\n\n  x', "line 3, column 3"),
        (b"{'grain': 5}", "line 1, column 2"),
        (b'{"grain": 05}', "line 1, column 12"),
        (b'{"why": "a\tb"}', "line 1, column 11"),
        (b'{"why": "\\x"}', "line 1, column 10"),
        (b'{"why": "open', "line 1, column 9"),
    ],
)
def test_text_that_is_no_json_is_refused_where_it_stops_being_json(data: bytes, path: str) -> None:
    fault = only_fault(data)
    assert fault.path == path
    assert "not JSON" in fault.problem


@pytest.mark.parametrize("name", ["NaN", "Infinity", "-Infinity"])
def test_numbers_that_json_does_not_have_are_refused_where_they_stand(name: str) -> None:
    # The first one stands in a text and is allowed there, escaped quote and all.
    fault = only_fault(('{"why": "\\"NaN, Infinity",\n "days": [1, ' + name + "]}").encode())
    assert fault.path == "line 2, column 14"
    assert name in fault.problem


def test_bytes_that_are_no_utf8_are_refused_where_they_stand() -> None:
    fault = only_fault('{"name":\n "Hôtel '.encode() + b'\xff"}')
    assert fault.path == "line 2, column 9"
    assert "UTF-8" in fault.problem


def test_utf16_is_refused() -> None:
    assert "UTF-8" in only_fault(json.dumps(raw_network()).encode("utf-16")).problem


def test_a_byte_order_mark_is_tolerated_and_counts_for_no_column() -> None:
    text = json.dumps(raw_network()).encode()
    assert decode_network(b"\xef\xbb\xbf" + text) == network()
    assert only_fault(b"\xef\xbb\xbf{x}").path == "line 1, column 2"


@pytest.mark.parametrize("opening", ["[", '{"a":'])
def test_nesting_too_deep_to_read_is_refused_at_its_depth(opening: str) -> None:
    fault = only_fault(b"\n" + (opening * 100_000).encode())
    assert fault.path == f"line 2, column {99_999 * len(opening) + 1}"
    assert "nested too deeply" in fault.problem


def test_nesting_that_can_be_read_is_a_value_of_the_wrong_type() -> None:
    assert only_fault(("[" * 400 + "]" * 400).encode()).path == "top level"


@pytest.mark.parametrize("number", ["1" * 5000, "-" + "9" * 30, "1e999", "-1e999"])
def test_a_number_too_large_is_refused_by_its_path(number: str) -> None:
    text = json.dumps(raw_network() | {"grain": "HERE"}).replace('"HERE"', number)
    fault = only_fault(text.encode())
    assert fault.path == "grain"
    assert "whole number" in fault.problem


def test_a_cost_too_large_for_a_double_is_refused_by_its_path() -> None:
    raw = raw_network()
    raw["policy"]["cost"]["move"] = "HERE"
    fault = only_fault(json.dumps(raw).replace('"HERE"', "1" * 400).encode())
    assert fault.path == "policy.cost.move"
    assert "finite number" in fault.problem


def test_every_key_given_twice_is_named_with_its_path() -> None:
    text = json.dumps(raw_network())
    text = text.replace('"grain": 5', '"grain": 5, "grain": 5, "grain": 10')
    text = text.replace('"id": "r2"', '"id": "r2", "weight": 2')
    with pytest.raises(FileRefused) as refusal:
        decode_network(text.encode())
    assert [(f.path, f.problem) for f in refusal.value.faults] == [
        ("grain", "key given twice"),
        ("requests[1].weight", "key given twice"),
    ]


def test_a_plan_is_refused_in_the_same_way() -> None:
    with pytest.raises(FileRefused) as refusal:
        decode_plan(b'{"bound": NaN}', network())
    assert [fault.path for fault in refusal.value.faults] == ["line 1, column 11"]
