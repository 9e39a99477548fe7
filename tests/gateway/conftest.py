"""The small plan's board, written once."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.gateway.board import write_board
from tests.gateway.small import small_ends, small_network, small_plan


@pytest.fixture(scope="session")
def board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("board")
    write_board(small_network(), small_plan(), small_ends(), folder)
    return folder
