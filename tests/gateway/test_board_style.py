"""Colours that can be read, in the light and in the dark."""

from __future__ import annotations

import re

import pytest

from planner.gateway.board import STATIC

STYLE = (STATIC / "board.css").read_text(encoding="utf-8")
LIGHT, DARK, PRINT = (
    dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6});", block))
    for block in re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)
)

TEXT = (
    ("ink", "paper"), ("quiet", "paper"), ("accent", "paper"), ("ink", "fill"), ("ink", "again"),
    ("ink", "wash"), ("paper", "ink"),
)  # fmt: skip
EDGES = (("accent", "paper"), ("again-edge", "paper"), ("again-edge", "again"), ("care", "paper"),
         ("quiet", "paper"), ("accent", "fill"))  # fmt: skip


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 definition (from memory)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2 (from memory): 21 for black on white."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_is_twenty_one_to_one() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("tokens", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_text_and_edges_have_the_contrast_that_wcag_asks(tokens: dict[str, str]) -> None:
    """WCAG 2.2, from memory: text 4.5 : 1 (1.4.3), edges that carry meaning 3 : 1 (1.4.11)."""
    for one, other in TEXT:
        assert contrast(tokens[one], tokens[other]) >= 4.5, (one, other)
    for one, other in EDGES:
        assert contrast(tokens[one], tokens[other]) >= 3, (one, other)


def test_light_and_dark_give_every_token_a_value_of_their_own() -> None:
    assert set(LIGHT) == set(DARK) == set(PRINT)
    assert not [name for name in LIGHT if LIGHT[name] == DARK[name]]


def test_focus_is_drawn_and_never_only_taken_away() -> None:
    assert ":focus-visible { outline: 3px solid var(--accent)" in STYLE
    for block in re.findall(r"([^{}]+)\{[^{}]*outline: none", STYLE):
        assert f"{block.strip()} .fill {{ fill: var(--ink)" in STYLE


def test_nothing_is_fetched_from_elsewhere() -> None:
    for path in STATIC.iterdir():
        text = path.read_text(encoding="utf-8")
        assert set(re.findall(r"https?://[^\s\"']+", text)) <= {"http://www.w3.org/2000/svg"}
        assert "@import" not in text
