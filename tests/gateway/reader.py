"""Reads a page as a browser's parser meets it: tags, attributes, texts, and what is wrong."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

EMPTY = {"meta", "link", "img", "input", "br", "hr"}
"""Elements without an end tag (HTML standard, 13.1.2; from memory)."""


@dataclass
class Tag:
    """An element with its attributes and all text inside it."""

    name: str
    attributes: dict[str, str]
    text: str = ""
    inside: list[Tag] = field(default_factory=list)

    def find(self, name: str, **wanted: str) -> list[Tag]:
        """Every element below of that name whose attributes have all the values wanted."""
        found = []
        for tag in self.inside:
            if tag.name == name and all(tag.attributes.get(k) == v for k, v in wanted.items()):
                found.append(tag)
            found += tag.find(name, **wanted)
        return found

    def classed(self, name: str, word: str) -> list[Tag]:
        """Every element below of that name that carries the class."""
        return [tag for tag in self.find(name) if word in tag.attributes.get("class", "").split()]


class Reader(HTMLParser):
    """Builds `Tag`s; ``faults`` lists tags that do not match."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Tag("", {})
        self.open = [self.root]
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if len({name for name, _ in attrs}) < len(attrs):
            self.faults.append(f"an attribute twice in <{tag}>")
        new = Tag(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(new)
        if tag not in EMPTY:
            self.open.append(new)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Tag(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1].name != tag:
            self.faults.append(f"</{tag}> where <{self.open[-1].name}> is open")
            return
        self.open.pop()

    def handle_data(self, data: str) -> None:
        for tag in self.open:
            tag.text += data


def read_page(path: Path) -> tuple[Tag, list[str]]:
    """A page and what is wrong with its tags."""
    reader = Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    reader.close()
    left = [f"<{tag.name}> is never closed" for tag in reader.open[1:]]
    return reader.root, reader.faults + left
