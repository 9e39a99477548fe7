"""Requests in a file of their own: read as in a network, refused with the path of each fault."""

from __future__ import annotations

import json
from typing import Any

import pytest

from planner.engine.codec import decode_network, decode_requests
from planner.engine.errors import FileRefused
from tests.engine.samples import raw_network

NETWORK = decode_network(json.dumps(raw_network()).encode())


def _refused(value: Any) -> list[str]:
    with pytest.raises(FileRefused) as refusal:
        decode_requests(json.dumps(value).encode(), NETWORK)
    return [fault.path for fault in refusal.value.faults]


def test_a_list_holds_what_the_network_file_would() -> None:
    raw = raw_network()["requests"]
    assert decode_requests(json.dumps(raw).encode(), NETWORK) == NETWORK.requests


def test_an_object_is_one_request() -> None:
    raw = raw_network()["requests"][0]
    assert decode_requests(json.dumps(raw).encode(), NETWORK) == NETWORK.requests[:1]


def test_faults_of_an_object_have_paths_within_it() -> None:
    raw = raw_network()["requests"][0] | {"duee": 1, "weight": 0, "profile": "unheard-of"}
    del raw["due"]
    assert sorted(_refused(raw)) == ["due", "duee", "profile", "weight"]


def test_faults_of_a_list_have_paths_with_the_place() -> None:
    good = raw_network()["requests"][0]
    other = good | {"id": "another", "sites": [{"site": "nowhere", "travel": -1}]}
    assert _refused([good, other]) == ["[1].sites[0].site", "[1].sites[0].travel"]


def test_an_id_given_twice_is_refused() -> None:
    good = raw_network()["requests"][0]
    assert _refused([good, good]) == ["[1].id"]


@pytest.mark.parametrize("value", [3, None, "r1"])
def test_what_is_no_request_is_refused(value: Any) -> None:
    assert _refused(value) == ["top level"]


def test_text_that_is_no_json_is_refused_by_line_and_column() -> None:
    with pytest.raises(FileRefused) as refusal:
        decode_requests(b'{\n "id": NaN}', NETWORK)
    assert refusal.value.faults[0].path == "line 2, column 8"


def test_a_key_given_twice_is_refused() -> None:
    text = json.dumps(raw_network()["requests"][0])[:-1] + ', "id": "again"}'
    with pytest.raises(FileRefused) as refusal:
        decode_requests(text.encode(), NETWORK)
    assert [fault.path for fault in refusal.value.faults] == ["id"]
