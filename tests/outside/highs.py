"""The allocation program by HiGHS, built a second time from the arrays, every option a column.

HiGHS through highspy: Huangfu and Hall (2018, doi:10.1007/s12532-017-0130-5), from memory; the
solver itself is run.
"""

from __future__ import annotations

import highspy
import numpy as np

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options


def by_highs(options: Options, capacity: Capacity) -> float:
    """The optimum of the program by HiGHS: columns for every option and for being left out."""
    jobs, count = len(options.unbooked), len(options.cost)
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # highspy leaves it untyped
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    empty = np.zeros(0, dtype=np.int32)
    for _ in range(jobs):
        solver.addRow(1.0, 1.0, 0, empty, np.zeros(0))
    for cap in capacity.cap:
        solver.addRow(-highspy.kHighsInf, float(cap), 0, empty, np.zeros(0))
    for o in range(count):
        p = capacity.pattern[o]
        rows = capacity.rows_of[capacity.first[p] : capacity.first[p + 1]]
        index = np.concatenate([[options.request[o]], rows + jobs]).astype(np.int32)
        value = np.full(1 + len(rows), float(options.minutes[o]))
        value[0] = 1.0
        if capacity.factor is not None:
            value[1:] *= capacity.factor[capacity.first[p] : capacity.first[p + 1]]
        solver.addCol(float(options.cost[o]), 0.0, highspy.kHighsInf, len(index), index, value)
    for job in range(jobs):
        index = np.array([job], dtype=np.int32)
        solver.addCol(float(options.unbooked[job]), 0.0, highspy.kHighsInf, 1, index, np.ones(1))
    solver.run()
    assert solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(solver.getObjectiveValue())
