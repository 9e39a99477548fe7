"""The exact linear program (MODEL.md, LP) by column generation through MathOpt.

The ascent's prices say which options can matter; the program is solved on these, priced over
all, and grown until no option left out has a negative reduced cost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt.python import mathopt

from planner.engine.booking.allocate.ascent import Ascent, evaluate
from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]

COLUMNS_EACH = 5
"""Options a request, on average, that enter the first program: those of least reduced cost."""

TOLERANCE = 1e-7

WANTED = mathopt.ModelSolveParameters(
    variable_values_filter=mathopt.VariableFilter(skip_zero_values=True),
    dual_values_filter=mathopt.LinearConstraintFilter(skip_zero_values=True),
    reduced_costs_filter=mathopt.VariableFilter(filtered_items=()),
)
"""What a solve is asked to tell: reading a number from Python takes longer than finding it."""


@dataclass(frozen=True, slots=True)
class Allocation:
    """The program's optimum, or the best found in time.

    ``share`` maps option -> share of its request (only those above 0), ``prices`` are by row,
    ``bound`` is a proven lower bound, ``exact`` says that the program was solved to optimality.
    """

    share: dict[int, float]
    prices: Floats
    bound: float
    exact: bool
    columns: int


def solve_allocation(
    options: Options, capacity: Capacity, ascent: Ascent, *, seconds: float,
    left: Callable[[], float],
) -> Allocation:  # fmt: skip
    """Solve the program, starting from an ascent's prices.

    ``seconds`` bounds one solve; ``left()`` says how much wall clock is left, and ends the growth
    of the program early (the bound stays proven: weak duality at the prices reached).
    """
    prices, bound = ascent.prices, ascent.bound
    columns = worth_a_column(options, capacity, prices)
    program = Program(options, capacity)
    share: dict[int, float] = {}
    exact = False
    while True:
        program.add(columns)
        solved = program.solve(seconds)
        if solved is None:
            break
        share, duals = solved
        value, _, _ = evaluate(options, capacity, duals)
        if value > bound:
            prices, bound = duals, value
        columns = program.missing(duals)
        if not len(columns):
            prices, exact = duals, True
            break
        if left() <= 0:
            break
    return Allocation(share, prices, bound, exact, program.size)


def reduced_costs(options: Options, capacity: Capacity, prices: Floats) -> Floats:
    """Cost plus the price of the minutes taken, one value an option."""
    reduced: Floats = (
        options.cost + options.minutes * capacity.pattern_prices(prices)[capacity.pattern]
    )
    return reduced


def worth_a_column(options: Options, capacity: Capacity, prices: Floats) -> Longs:
    """The options of least reduced cost, `COLUMNS_EACH` a request on average."""
    reduced = reduced_costs(options, capacity, prices)
    best = options.unbooked.copy()
    np.minimum.at(best, options.request, reduced)
    excess = reduced - best[options.request]
    wanted = min(round(COLUMNS_EACH * len(options.unbooked)), len(excess)) - 1
    if wanted < 0:
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(excess <= np.partition(excess, wanted)[wanted])


class Program:
    """The restricted linear program; grows by columns."""

    def __init__(self, options: Options, capacity: Capacity) -> None:
        self.options, self.capacity = options, capacity
        self.model = mathopt.Model(name="allocation")
        self.option: dict[int, int] = {}
        self.inside = np.zeros(len(options.cost), dtype=np.bool_)
        used = np.flatnonzero(np.diff(options.first))
        self.one = {int(r): self.model.add_linear_constraint(lb=1.0, ub=1.0) for r in used}
        self.rows = [
            self.model.add_linear_constraint(lb=-np.inf, ub=float(cap)) for cap in capacity.cap
        ]
        self.constant = float(options.unbooked[np.diff(options.first) == 0].sum())
        for r, row in self.one.items():
            out = self.model.add_variable(lb=0.0)
            row.set_coefficient(out, 1.0)
            self.model.objective.set_linear_coefficient(out, float(options.unbooked[r]))
        self.solver = mathopt.IncrementalSolver(self.model, mathopt.SolverType.GLOP)

    @property
    def size(self) -> int:
        """How many options have a column."""
        return len(self.option)

    def add(self, columns: Longs) -> None:
        """Give options a column."""
        options, capacity = self.options, self.capacity
        objective = self.model.objective
        for o in columns.tolist():
            column = self.model.add_variable(lb=0.0)
            self.option[column.id] = o
            objective.set_linear_coefficient(column, float(options.cost[o]))
            self.one[int(options.request[o])].set_coefficient(column, 1.0)
            minutes = float(options.minutes[o])
            pattern = capacity.pattern[o]
            for k in range(capacity.first[pattern], capacity.first[pattern + 1]):
                share = 1.0 if capacity.factor is None else float(capacity.factor[k])
                self.rows[capacity.rows_of[k]].set_coefficient(column, minutes * share)
        self.inside[columns] = True

    def solve(self, seconds: float) -> tuple[dict[int, float], Floats] | None:
        """Shares and row prices at the optimum of the columns so far; None where time ran out."""
        params = mathopt.SolveParameters(time_limit=timedelta(seconds=seconds), threads=1)
        result = self.solver.solve(params=params, model_params=WANTED)
        if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            return None
        share = {}
        for column, value in result.variable_values().items():
            option = self.option.get(column.id, -1)
            if option >= 0 and value > 1e-9:
                share[option] = value
        duals = result.dual_values()
        prices = np.array([max(0.0, -duals.get(row, 0.0)) for row in self.rows])
        return share, prices

    def missing(self, prices: Floats) -> Longs:
        """Options left out whose reduced cost says that they would lower the program's value."""
        reduced = reduced_costs(self.options, self.capacity, prices)
        best = self.options.unbooked.copy()
        request = self.options.request
        np.minimum.at(best, request[self.inside], reduced[self.inside])
        scale = TOLERANCE * (1.0 + np.abs(best[request]))
        low = np.flatnonzero(~self.inside & (reduced < best[request] - scale))
        order = np.lexsort((reduced[low], request[low]))
        _, once = np.unique(request[low][order], return_index=True)
        return np.asarray(low[order][once], dtype=np.int64)
