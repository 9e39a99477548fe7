"""The network file as a whole: order and number of the faults, and the way there and back."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from planner.engine.codec import decode_network, encode_network
from planner.engine.network import Network
from tests.engine.samples import drop, network, put, raw_network, refused


def test_what_is_written_is_read_back_as_the_same_network() -> None:
    data = encode_network(network())
    assert decode_network(data) == network()
    assert encode_network(decode_network(data)) == data


def test_a_written_network_holds_the_values_of_the_file_it_was_read_from() -> None:
    assert json.loads(encode_network(network())) == raw_network()


def test_numbers_are_written_alike_whether_built_as_int_or_float() -> None:
    raw = raw_network()
    for request in raw["requests"]:
        request["weight"] = 2.0
    read = decode_network(json.dumps(raw).encode())
    built = replace(read, requests=tuple(replace(r, weight=2) for r in read.requests))
    assert encode_network(built) == encode_network(read)
    assert b'"weight": 2,' in encode_network(read)


def test_texts_of_any_script_survive() -> None:
    raw = raw_network()
    raw["sites"][0]["name"] = 'Zürich "Süd" \\ 東京 🖐\u2028\n'
    read = decode_network(json.dumps(raw).encode())
    assert decode_network(encode_network(read)) == read


def test_the_file_has_a_record_a_line_and_ends_with_a_newline() -> None:
    lines = encode_network(network()).decode().split("\n")
    assert lines[-1] == ""
    assert sum('"release"' in line for line in lines) == len(network().requests)


def test_keys_that_may_be_left_out_are_when_they_say_nothing() -> None:
    raw = raw_network()
    for kind in ("care", "appointments", "reserve"):
        raw[kind] = []
    raw["requests"][0] |= {"rework": False, "available": [], "skills": [], "unbooked": None}
    written = json.loads(encode_network(decode_network(json.dumps(raw).encode())))
    assert written.keys().isdisjoint({"care", "appointments", "reserve"})
    assert written["requests"][0] == raw_network()["requests"][0]


def test_faults_of_every_sort_are_listed_together_in_the_order_of_the_file() -> None:
    raw = raw_network()
    # Keys in another order than usual: the order of the file counts.
    raw = {"requests": raw.pop("requests")} | raw
    put(raw, "requests[2].unbooked", -1)
    put(raw, "requests[0].duee", 1)
    put(raw, "requests[0].weight", "heavy")
    drop(raw, "requests[1].release")
    put(raw, "sites[0].timezone", "Europe/Nowhere")
    put(raw, "days", 0)
    put(raw, "colour", "green")
    assert [fault.path for fault in refused(raw)] == [
        "requests[0].weight",
        "requests[0].duee",
        "requests[1].release",
        "requests[2].unbooked",
        "days",
        "sites[0].timezone",
        "colour",
    ]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("sites", "none"),
        ("sites[0]", None),
        ("sites[0].id", 5),
        ("sites[1].timezone", None),
        ("stations", {}),
        ("stations[0].id", ""),
        ("stations[0].site", 7),
        ("profiles[0].id", None),
        ("requests", None),
        ("requests[0]", []),
        ("requests[0].id", 1),
        ("requests[0].sites[0]", "north"),
        ("technicians[1]", 1),
        ("technicians[0].shifts[0]", 1),
        ("technicians[0].shifts[0].from", "soon"),
        ("technicians[0].shifts[0].to", "late"),
        ("technicians[0].shifts[0].break_minutes", "long"),
        ("technicians[0].shifts[0].break_from", "noon"),
        ("sites[0].open[0].from", "early"),
        ("sites[0].open[1]", None),
        ("first_day", "today"),
        ("days", "two"),
    ],
)
def test_what_follows_from_an_unreadable_value_is_not_blamed_again(
    path: str, value: object
) -> None:
    raw = raw_network()
    put(raw, path, value)
    assert [fault.path for fault in refused(raw)] == [path]


def test_a_missing_list_of_records_is_the_only_fault() -> None:
    for kind in ("profiles", "sites", "stations", "technicians", "requests"):
        raw: Any = raw_network()
        del raw[kind]
        assert [fault.path for fault in refused(raw)] == [kind]


def test_a_negative_number_of_days_is_told_even_where_the_first_day_is_unreadable() -> None:
    raw = raw_network() | {"first_day": "today", "days": -1}
    assert [fault.path for fault in refused(raw)] == ["first_day", "days"]


def test_a_fault_prints_on_one_line_whatever_the_key_holds() -> None:
    raw = raw_network() | {"new\nline\ud800": 1, "": 2}
    first, second = refused(raw)
    assert first.path == '["new\\nline\\ud800"]'
    assert second.path == '[""]'
    assert str(first).isprintable()


def test_fifty_thousand_faults_are_all_listed() -> None:
    raw = raw_network()
    raw["appointments"] = []
    raw["requests"] = [raw["requests"][0] | {"id": f"r{i}", "weight": 0} for i in range(50_000)]
    paths = [fault.path for fault in refused(raw)]
    assert paths == [f"requests[{i}].weight" for i in range(50_000)]


def test_the_type_of_what_is_read_is_the_network_itself() -> None:
    assert type(network()) is Network
