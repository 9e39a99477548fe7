"""Whatever stands in a plan, the judge answers; and small slips in times never pass unseen."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.plan import Booking, Break, CarePlaced, CareUnplaced, Plan, Reason, Unbooked
from planner.engine.verify import verify
from planner.engine.verify.spans import common, last_shared, minutes, minutes_less, union
from tests.engine.verify import test_rules_1_to_3, test_rules_4_to_6, test_rules_7_to_10
from tests.engine.verify.good import NETWORK, PLAN

NAMES = "r1 r2 r3 r4 r5 r6 r9 a1 a2 a3 n1 n2 s1 t1 t2 t3 c1 c2 north south flats"
IDS = st.sampled_from(["", "?", *re.findall(r"\w+", NAMES)])
MINUTES = st.one_of(
    st.integers(-100, 4500),
    st.sampled_from([0, -1, 10**9, -(10**9), 10**13, -(10**13)]),  # the last in no calendar
)
NUMBERS = st.floats()
REASONS = st.lists(st.builds(Reason, IDS, IDS, IDS), max_size=2).map(tuple)
BOOKING = st.builds(Booking, IDS, IDS, IDS, IDS, MINUTES, MINUTES, MINUTES, NUMBERS)


def _list_of(
    good: tuple[object, ...], any_: st.SearchStrategy[object]
) -> st.SearchStrategy[object]:
    """Some of the good ones and some of any kind, in any order."""
    return st.lists(st.one_of(st.sampled_from(good), any_), max_size=9).map(tuple)


PLANS = st.builds(
    Plan,
    bookings=_list_of(PLAN.bookings, BOOKING),
    care=_list_of(PLAN.care, st.builds(CarePlaced, IDS, MINUTES, st.none() | IDS)),
    care_unplaced=st.lists(st.builds(CareUnplaced, IDS, IDS), max_size=3).map(tuple),
    breaks=_list_of(PLAN.breaks, st.builds(Break, IDS, MINUTES, MINUTES)),
    unbooked=_list_of(PLAN.unbooked, st.builds(Unbooked, IDS, REASONS)),
    moved=st.lists(IDS, max_size=3).map(tuple),
    lengths=st.dictionaries(IDS, MINUTES, max_size=4),
    objective=NUMBERS,
    bound=NUMBERS,
    gap=st.none() | NUMBERS,
)


@given(plan=PLANS)
@settings(max_examples=300, deadline=None)
def test_any_plan_is_judged_without_an_error(plan: Plan) -> None:
    found = verify(NETWORK, plan, draws=20, seed=1)
    rules = [breach.rule for breach in found]
    assert rules == sorted(rules)
    assert set(rules) <= set(range(1, 11))
    assert all(breach.things and breach.detail for breach in found)
    if len(plan.bookings) + len({entry.request for entry in plan.unbooked}) < len(NETWORK.requests):
        assert 1 in rules


@given(index=st.integers(0, len(PLAN.bookings) - 1), by=st.integers(-3000, 3000))
@settings(max_examples=200, deadline=None)
def test_a_told_time_is_wrong_unless_it_is_the_start_rounded_down(index: int, by: int) -> None:
    booking = PLAN.bookings[index]
    plan = replace(
        PLAN,
        bookings=(
            *PLAN.bookings[:index],
            replace(booking, told=booking.told + by),
            *PLAN.bookings[index + 1 :],
        ),
    )
    named = {b.things for b in verify(NETWORK, plan, draws=20, seed=1) if b.rule == 1}
    assert named == ({(booking.request,)} if by else set())


SPANS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=8)


@given(a=SPANS, b=SPANS, start=st.integers(0, 60), length=st.integers(0, 20))
def test_spans_agree_with_sets_of_minutes(
    a: list[tuple[int, int]], b: list[tuple[int, int]], start: int, length: int
) -> None:
    """Set algebra on single minutes (derived)."""
    these = {minute for since, until in a for minute in range(since, until)}
    those = {minute for since, until in b for minute in range(since, until)}
    assert minutes(union(a)) == len(these)
    assert minutes(common(union(a), union(b))) == len(these & those)
    assert minutes_less(union(a), union(b)) == len(these - those)
    shared = last_shared(union(a), start, start + length)
    assert (shared is not None) == bool(these & set(range(start, start + length)))


def test_every_rule_has_three_mutations_or_more() -> None:
    lists = (test_rules_1_to_3.ALL, test_rules_4_to_6.ALL, test_rules_7_to_10.ALL)
    counts = Counter(spoilt.rule for mutations in lists for spoilt in mutations)
    assert set(counts) == set(range(1, 11))
    assert min(counts.values()) >= 3
