"""Objective of the exact day model: the saving of what is placed."""

from __future__ import annotations

from planner.engine.booking.timetable.variables import DayVars

SCALE = 1000


def build_objective(model: DayVars, value: dict[int, float]) -> None:
    """Maximise the sum of ``value`` (cost saved, by request) over placed jobs.

    Values are rounded to thousandths; one thousandth is added so that a job worth nothing is
    still placed where it harms nobody.
    """
    model.cp.maximize(
        sum((round(SCALE * value[item.job.request]) + 1) * item.present for item in model.jobs)
    )
