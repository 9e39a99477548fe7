"""Every page opens from disk, is whole, and leads only to what exists."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from planner.gateway.board import write_board
from tests.gateway.reader import Tag, read_page
from tests.gateway.small import small_ends, small_network, small_plan

PAGES = (
    "index.html",
    "not-booked.html",
    "days/harbour_2027-03-09.html",
    "days/harbour_2027-03-10.html",
    "days/north_2027-03-10.html",
)


def all_tags(root: Tag) -> list[Tag]:
    return [found for tag in root.inside for found in (tag, *all_tags(tag))]


def test_there_is_a_page_for_every_day_that_is_open_or_staffed_and_no_other(board: Path) -> None:
    assert {str(path.relative_to(board)) for path in board.rglob("*.html")} == set(PAGES)


@pytest.mark.parametrize("name", PAGES)
def test_tags_match_and_ids_are_used_once(board: Path, name: str) -> None:
    root, faults = read_page(board / name)
    ids = [tag.attributes["id"] for tag in all_tags(root) if "id" in tag.attributes]
    assert faults == []
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", PAGES)
def test_everything_linked_is_on_disk_and_every_anchor_exists(board: Path, name: str) -> None:
    root, _ = read_page(board / name)
    tags = all_tags(root)
    ids = {tag.attributes.get("id") for tag in tags}
    links = [
        tag.attributes[key] for tag in tags for key in ("href", "src") if key in tag.attributes
    ]
    assert len(links) > 5
    for link in links:
        parts = urlsplit(link)
        assert not parts.scheme
        assert not parts.netloc
        assert not parts.path or ((board / name).parent / parts.path).is_file()
        assert not parts.fragment or parts.fragment in ids


@pytest.mark.parametrize("name", PAGES)
def test_no_style_or_script_stands_inside_a_page(board: Path, name: str) -> None:
    tags = all_tags(read_page(board / name)[0])
    assert not [tag for tag in tags if "style" in tag.attributes or tag.name == "style"]
    assert not [tag for tag in tags for key in tag.attributes if key.startswith("on")]
    assert all(tag.text == "" for tag in tags if tag.name == "script")


@pytest.mark.parametrize("name", PAGES)
def test_a_page_says_its_language_its_title_and_the_cautions(board: Path, name: str) -> None:
    root, _ = read_page(board / name)
    assert root.find("html")[0].attributes["lang"] == "en"
    assert root.find("title")[0].text.endswith(" - Platen")
    assert len(root.find("h1")) == 1
    assert len(root.classed("p", "answers")) == 1
    foot = " ".join(root.find("footer")[0].text.split())
    assert "A plan, not a decision about a person." in foot
    assert "policy and licensed or certified practice come first" in foot


def test_ids_from_the_file_cannot_become_markup(tmp_path: Path) -> None:
    network, plan = small_network(), small_plan()
    bad = "<script>x</script>\"'&"
    first, *others = network.requests
    network = replace(network, requests=(replace(first, id=bad), *others))
    plan = replace(plan, bookings=(replace(plan.bookings[0], request=bad), *plan.bookings[1:]))
    write_board(network, plan, small_ends(), tmp_path)
    root, faults = read_page(tmp_path / "days/harbour_2027-03-09.html")
    assert faults == []
    assert len(root.find("script")) == 1
    cells = [tag.text for tag in root.find("td", **{"data-label": "request"})]
    assert cells[0] == bad


def test_an_earlier_board_leaves_no_page_behind_and_other_files_stay(tmp_path: Path) -> None:
    network, plan = small_network(), small_plan()
    write_board(network, plan, {}, tmp_path)
    (tmp_path / "days/notes.html").write_text("<p>mine</p>")
    shorter = replace(
        network,
        sites=network.sites[:1],
        stations=network.stations[:2],
        requests=network.requests[:3],
    )
    write_board(shorter, replace(plan, unbooked=()), {}, tmp_path)
    left = {path.name for path in (tmp_path / "days").iterdir()}
    assert left == {"harbour_2027-03-09.html", "harbour_2027-03-10.html", "notes.html"}


def test_the_same_plan_gives_the_same_bytes(board: Path, tmp_path: Path) -> None:
    write_board(small_network(), small_plan(), small_ends(), tmp_path)
    for name in PAGES:
        assert (tmp_path / name).read_bytes() == (board / name).read_bytes()


def test_a_network_without_sites_has_an_index_that_says_so(tmp_path: Path) -> None:
    network, plan = small_network(), small_plan()
    empty = replace(
        network, sites=(), stations=(), technicians=(), requests=(), care=(), appointments=()
    )
    nothing = replace(plan, bookings=(), care=(), breaks=(), unbooked=())
    root, faults = read_page(write_board(empty, nothing, {}, tmp_path))
    assert faults == []
    assert "names no site" in root.text
    assert "Every request is booked." in re.sub(r"\s+", " ", root.text)
