"""CP-SAT as the engine uses it: one thread, a fixed seed, a deterministic effort."""

from __future__ import annotations

from ortools.sat.python import cp_model


def run_model(model: cp_model.CpModel, effort: float) -> tuple[cp_model.CpSolver, bool, bool]:
    """Solve a model within ``effort`` (deterministic seconds).

    Returns the solver, whether it has a solution, and whether that is proven optimal. The same
    model and effort give the same answer.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = effort
    name = solver.status_name(solver.solve(model))
    return solver, name in {"OPTIMAL", "FEASIBLE"}, name == "OPTIMAL"
