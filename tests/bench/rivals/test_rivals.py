"""Rivals keep rules 1 to 8, and the whole model finds the optimum of tiny networks.

The judge is `verify`, which shares no code with the rivals; the second model is
`tests.engine.monolith`, which reads the network alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from planner.engine.booking import Options
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Appointment, Care, Network, Reserve, Station
from planner.engine.plan import Plan
from planner.engine.sessions.length import session_length
from planner.engine.verify import verify_undrawn
from tests.bench.rivals.answer import Answer, Ask, NoPlan
from tests.bench.rivals.ground import Ground, intervals, lowest, run_starts, span
from tests.bench.rivals.jobshop import jobshop
from tests.bench.rivals.monolith import build, monolith
from tests.bench.rivals.served import keep_book, planned_lengths, serve, slot_lengths
from tests.bench.rivals.started import hints, monolith_started
from tests.engine.booking.build import (
    FULL,
    USUAL,
    at,
    network,
    one_desk,
    plan_and_proof,
    request,
    rested,
    site,
    technician,
)
from tests.engine.booking.contested import contested
from tests.engine.booking.networks import random_network
from tests.engine.monolith import solve_monolith

RIVALS = {"served": serve, "monolith": monolith, "started": monolith_started, "jobshop": jobshop}
SECONDS = 60.0
EFFORT = 20
"""Deterministic seconds of the whole model here; PyJobShop is left to end by proof."""


def ask(given: Network, lengths: dict[str, int] | None = None) -> Ask:
    return Ask(given, lengths or planned_lengths(given), SECONDS, effort=EFFORT)


def sound(given: Network, answer: Answer) -> Plan:
    """The plan, which breaks none of the rules but perhaps promises."""
    assert verify_undrawn(given, answer.plan, care_may_be_unplaced=False) == ()
    return answer.plan


def busy(seed: int) -> Network:
    """A contested network of 12 requests with appointments, one of them fixed, and a reserve."""
    given = contested(seed, 12)
    at_hall = [item for item in given.requests if item.sites[0].site == "hall"]
    names = [item.id for item in at_hall if not item.features and not item.skills][:2]
    requests = tuple(
        replace(item, release=0) if item.id in names else item for item in given.requests
    )
    appointments = (
        Appointment("stands", names[0], "h1", "anna", at(9, 30), 25, fixed=True),
        *(Appointment("moves", name, "h2", "ben", at(10, 5), 20, fixed=False)
          for name in names[1:]),
    )  # fmt: skip
    return replace(
        given, requests=requests, appointments=appointments,
        reserve=(Reserve("hall", 0, 60), Reserve("quay", 1, 30)),
    )  # fmt: skip


@pytest.mark.parametrize("rival", RIVALS)
@pytest.mark.parametrize("seed", range(3))
def test_every_rival_keeps_the_rules_on_contested_networks(rival: str, seed: int) -> None:
    given = busy(seed)
    found = sound(given, RIVALS[rival](ask(given)))
    assert any(item.request for item in found.bookings)


def outcome(given: Network, rival: Callable[[Ask], Answer], lengths: dict[str, int]) -> str:
    """``planned`` after a sound plan, else why there is none."""
    try:
        answer = rival(ask(given, lengths))
    except NetworkImpossible:
        return "impossible"
    except NoPlan as error:
        return str(error)
    sound(given, answer)
    return "planned"


@pytest.mark.parametrize("lengths", [slot_lengths, planned_lengths])
def test_first_come_first_served_keeps_the_rules_on_any_network(
    lengths: Callable[[Network], dict[str, int]],
) -> None:
    """Where it has no plan, fixed appointments or care exclude each other, and it says which."""
    ends = []
    for seed in range(60):
        given = random_network(seed)
        ends.append(outcome(given, serve, lengths(given)))
    assert ends.count("planned") >= 20
    assert all(end in ("planned", "impossible") or end.startswith("care ") for end in ends)


def test_the_whole_model_keeps_the_rules_on_any_network() -> None:
    """Where it proves that there is no plan, the second model does too."""
    ends = []
    for seed in range(25):
        given = random_network(seed)
        lengths = planned_lengths(given)
        ends.append(outcome(given, monolith, lengths))
        if ends[-1] != "planned":
            assert solve_monolith(given, lengths, effort=10.0) is None
    assert ends.count("planned") >= 8


@pytest.mark.parametrize("seed", range(4))
def test_the_whole_model_lies_between_our_bound_and_our_cost(seed: int) -> None:
    """Bound <= optimum <= cost, and the optimum is the second model's."""
    given = busy(seed)
    lengths = planned_lengths(given)
    answer = monolith(ask(given))
    assert answer.word == "proved best"
    optimum = sound(given, answer).objective
    other = solve_monolith(given, lengths, effort=60.0)
    assert other is not None
    assert other.optimal
    assert optimum == pytest.approx(other.cost, abs=0.05)
    assert answer.bound == pytest.approx(optimum, abs=0.05)
    found, proven = plan_and_proof(given, Options(effort=3))
    assert proven <= optimum + 1e-6
    assert optimum <= found.objective + 0.05


def test_the_started_model_is_no_dearer_than_what_it_starts_from() -> None:
    given = busy(1)
    started = sound(given, monolith_started(ask(given)))
    assert started.objective <= sound(given, serve(ask(given))).objective + 1e-6


def test_the_started_model_answers_with_its_start_where_time_is_up() -> None:
    given = busy(1)
    answer = monolith_started(replace(ask(given), seconds=-1.0))
    assert answer.word.startswith("its start: no plan in time")
    assert answer.plan == serve(ask(given)).plan


def test_the_start_gives_every_variable_a_value() -> None:
    given = busy(2)
    model = build(ask(given))
    found = hints(model, keep_book(Ground(given, planned_lengths(given))))
    named = {k for k, variable in enumerate(model.cp.proto.variables)
             if len(variable.domain) > 2 or variable.domain[0] != variable.domain[1]}  # fmt: skip
    assert named <= set(found)


def test_first_come_first_served_by_hand() -> None:
    """Two seats a morning, three who come: by release, then by the file.

    From 9:00 to 9:40 one desk holds two sessions of 20 minutes. b was released first and gets
    9:00, a 9:20; c goes to the next day and waits a day more: 0.1 + 0.1 + ... by hand below.
    """
    spans = [(at(9, day=day), at(9, 40, day=day)) for day in (0, 1)]
    given = network(
        (site("hall", *spans),),
        (Station("desk", "hall"),),
        (technician("anna", *(("hall", *one) for one in spans)),),
        (
            request("a", "m20", "hall"),
            request("b", "m20", "hall", release=-2),
            request("c", "m20", "hall"),
        ),
        days=2,
    )
    found = sound(given, serve(ask(given)))
    assert {item.request: item.start for item in found.bookings} == {
        "b": at(9), "a": at(9, 20), "c": at(9, day=1),
    }  # fmt: skip
    # a waits 0 days, b 2, c 1, at 0.1 a day
    assert found.objective == pytest.approx(0.3)


def test_first_come_first_served_leaves_room_for_breaks_care_and_the_reserve() -> None:
    """Nine to ten: care of 20 minutes and a break of 10 leave one session of 20, not two.

    The reserve of 15 then leaves 15 of the technician's 30 minutes: nobody who is not rework.
    """
    rest = rested("hall", at(9), at(10), 10, (at(9, 20), at(9, 50)))
    care = (Care("wipe", "desk", 20, 0, 0, technician=True),)
    given = network(
        (site("hall", (at(9), at(10))),),
        (Station("desk", "hall"),),
        (technician("anna", rest),),
        (request("a", "m20", "hall"), request("b", "m20", "hall")),
        care=care,
    )
    found = sound(given, serve(ask(given)))
    assert [item.request for item in found.bookings] == ["a"]
    held = replace(given, reserve=(Reserve("hall", 0, 15),))
    assert sound(held, serve(ask(held))).bookings == ()


def test_a_slot_holds_ninety_five_percent_of_the_sessions() -> None:
    given = one_desk((request("a", "full", "hall"),), profiles=(FULL,), policy=USUAL)
    minutes = slot_lengths(given)["full"]
    length = session_length(FULL)
    assert length.sf(minutes) <= 0.05 < length.sf(minutes - 1)
    assert minutes > planned_lengths(given)["full"]


def test_the_job_shop_leaves_out_who_costs_least() -> None:
    """One place, two who want it: the one of weight 1 is left out, as the objective has it."""
    given = one_desk(
        (request("light", "m20", "hall"), request("heavy", "m20", "hall", weight=2.0)),
        at(9), at(9, 30),
    )  # fmt: skip
    found = sound(given, jobshop(ask(given)))
    assert [item.request for item in found.bookings] == ["heavy"]
    assert found.objective == pytest.approx(30.0)


def test_the_job_shop_keeps_who_is_booked_in_place() -> None:
    given = one_desk(
        (request("a", "m20", "hall"), request("b", "m20", "hall")),
        appointments=(Appointment("x", "a", "desk", "anna", at(11), 20, fixed=False),),
    )
    found = sound(given, jobshop(ask(given)))
    assert {item.request: item.start for item in found.bookings}["a"] == at(11)
    assert found.moved == ()


@pytest.mark.parametrize("free", [0b0, 0b1, 0b0111_0110, 0b1111_1011_0001])
@pytest.mark.parametrize("minutes", [1, 2, 3, 5])
def test_starts_are_those_after_which_all_minutes_are_free(free: int, minutes: int) -> None:
    wanted = [t for t in range(20) if all(free >> (t + k) & 1 for k in range(minutes))]
    found = run_starts(free, minutes)
    assert [t for t in range(20) if found >> t & 1] == wanted
    assert lowest(found) == (wanted[0] if wanted else -1)
    listed = [t for first, last in intervals(found) for t in range(first, last + 1)]
    assert listed == wanted
    assert span(3, 5) == 0b11000
