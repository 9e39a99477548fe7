"""Whatever happens, the new plan passes its judge, or what excludes it is named.

The judge is `verify`, which shares nothing with the planner.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.booking import Options, plan
from planner.engine.booking.replan import Events, Outage, Replanned, replan
from planner.engine.codec import decode_network, decode_plan, encode_network, encode_plan
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY
from planner.engine.verify import verify
from tests.engine.booking.networks import networks

MODERATE = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def _outages(draw: Any, network: Network, things: tuple[Any, ...]) -> tuple[Outage, ...]:
    found = []
    for _ in range(draw(st.integers(0, 2)) if things else 0):
        start = draw(st.integers(-1, network.days * 24)) * 60
        minutes = draw(st.sampled_from((30, 120, 480, DAY)))
        thing = draw(st.sampled_from(things)).id
        if start < network.days * DAY and start + minutes > 0:
            found.append(Outage(thing, start, start + minutes))
    return tuple(found)


@st.composite
def cases(draw: Any) -> tuple[Network, Events]:
    """A network and events of every kind."""
    network = draw(networks())
    requests = network.requests
    some = st.lists(st.sampled_from(requests), max_size=3, unique=True) if requests else st.just([])
    return network, Events(
        down=_outages(draw, network, network.stations),
        absent=_outages(draw, network, network.technicians),
        closed=_outages(draw, network, network.sites),
        added=tuple(replace(item, id=f"new {item.id}") for item in draw(some)),
        cancelled=tuple(item.id for item in draw(some)),
    )


def replanned(network: Network, events: Events, seed: int) -> tuple[Plan, Replanned] | list[str]:
    """The plan of a small effort and its re-plan, or the paths of what makes one impossible."""
    try:
        old = plan(network, Options(effort=1, seed=seed))
        return old, replan(network, old, events, seed=seed)
    except NetworkImpossible as error:
        return [fault.path for fault in error.faults]


@given(case=cases(), seed=st.integers(0, 5))
@MODERATE
def test_any_events_get_a_sound_plan_or_a_named_reason(
    case: tuple[Network, Events], seed: int
) -> None:
    network, events = case
    tried = replanned(network, events, seed)
    if isinstance(tried, list):
        assert tried
        assert all(path.startswith(("care[", "appointments[", "technicians[")) for path in tried)
        return
    old, made = tried
    assert verify(made.network, made.plan, draws=2000, seed=seed + 77) == ()
    assert made.plan.bound <= made.plan.objective
    cancelled = set(events.cancelled)
    kept = [item for item in old.bookings if item.request not in cancelled]
    assert [item.id for item in made.network.appointments] == [item.request for item in kept]
    again = decode_network(encode_network(made.network))
    assert encode_network(again) == encode_network(made.network)
    assert decode_plan(encode_plan(made.plan, made.network), again) == made.plan
    differs = {change.request for change in made.news.changes}
    assert set(made.plan.moved) <= differs
