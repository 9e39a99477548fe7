"""The day board: a plan as pages that open from disk, one per site and day, and an index."""

from __future__ import annotations

from pathlib import Path

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.board.book import open_book
from planner.gateway.board.pages import page_names, pages
from planner.gateway.board.rows import Ends
from planner.gateway.files import write_whole

STATIC = Path(__file__).resolve().parents[2] / "static" / "planner"
MARK = b'<meta name="generator" content="Platen">'
"""Stands in the head of every page that is written here, so that old pages can be told apart."""


def write_board(network: Network, plan: Plan, ends: Ends, folder: Path) -> Path:
    """Write the pages and what they need into ``folder`` and return the index.

    Day pages of an earlier board in the same folder are removed first; other files stay.
    Raises FileRefused where the folder cannot be written.
    """
    book = open_book(network, plan)
    names = page_names(book)
    make_folder(folder / "days")
    for old in (folder / "days").glob("*.html"):
        if MARK in old.read_bytes()[:400]:
            old.unlink()
    for source in sorted(STATIC.iterdir()):
        write_whole(folder / source.name, source.read_bytes())
    for name, text in pages(book, names, ends):
        write_whole(folder / name, text.encode())
    return folder / "index.html"


def make_folder(folder: Path) -> None:
    """Make a folder and those above it. Raises FileRefused where that cannot be done."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        problem = f"cannot be made ({error.strerror or error})"
        remedy = "name a folder that can be written"
        raise FileRefused([Fault(str(folder), problem, remedy)]) from error
