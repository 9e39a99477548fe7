"""The solvers agree on the allocation program, each an outside check of the others."""

from __future__ import annotations

import pytest

from tests.bench.programs import laid_out, main, solve


def test_three_solvers_find_the_same_optimum(capsys: pytest.CaptureFixture[str]) -> None:
    """GLOP and HiGHS are simplex codes of two houses; PDLP is a first-order method."""
    program, ascent = laid_out("S", 4)
    simplex = solve(program, ascent, "glop", 30.0)
    assert simplex is not None
    assert simplex >= ascent.bound * (1 - 1e-9)
    assert solve(program, ascent, "highs", 30.0) == pytest.approx(simplex, rel=1e-6)
    assert solve(program, ascent, "pdlp", 30.0) == pytest.approx(simplex, rel=1e-3)
    assert capsys.readouterr().out.count("optimal") == 3


def test_a_size_that_nobody_solves_in_time_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["S", "--seconds", "0.000001", "--solvers", "pdlp"]) == 1
    assert "optimal" not in capsys.readouterr().out
