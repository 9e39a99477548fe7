"""The lines after a run."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.plan import Reason, Unbooked
from planner.gateway.summary import capacity_words, promise_words, summary_lines
from tests.gateway.small import small_network, small_plan


def test_the_summary_counts_and_names_what_the_plan_holds() -> None:
    assert summary_lines(small_network(), small_plan()) == [
        "booked      3 of 4 requests",
        "not booked  1",
        "                  1  no_technician",
        "promises    wait over 15 min at most 10.0%: worst 7.3% over 2 bookings placed",
        "care        1 placed, 1 breaks",
        "moved       0 of 1 appointments",
        "cost        66.50, bound 60.00, gap 10.83%",
        "seconds     read 0.1, plan 1.2",
    ]


def test_the_promise_speaks_of_what_the_run_placed() -> None:
    """The fixed appointment waits more than promised; the promise does not cover it."""
    plan = small_plan()
    only_fixed = replace(plan, bookings=plan.bookings[2:])
    assert promise_words(small_network(), only_fixed).endswith("no booking placed")


def test_reasons_are_ordered_by_how_many_they_leave_out() -> None:
    codes = ["full", "never_open", "never_open", "full", "never_open", "held"]
    unbooked = tuple(
        Unbooked(f"r{place}", (Reason(code, "", ""), Reason("other", "", "")))
        for place, code in enumerate(codes)
    )
    lines = summary_lines(small_network(), replace(small_plan(), unbooked=unbooked))
    assert [line.split() for line in lines[2:5]] == [
        ["3", "never_open"],
        ["2", "full"],
        ["1", "held"],
    ]


def test_a_bound_of_zero_has_no_gap() -> None:
    lines = summary_lines(small_network(), replace(small_plan(), bound=0.0, gap=None))
    assert "cost        66.50, bound 0.00, no gap, the bound is 0" in lines


def test_lines_on_the_bound_follow_the_cost() -> None:
    lines = summary_lines(small_network(), small_plan(), ["capacity    so much"])
    assert lines[-2] == "capacity    so much"
    assert lines[-3].startswith("cost ")


def test_the_gap_as_capacity_is_worded_with_the_bound_it_is_to() -> None:
    assert capacity_words("bound", 0.0123).startswith("the bound reaches this cost with 1.23% less")
    assert "all the room" in capacity_words("strong bound", 0.0)
