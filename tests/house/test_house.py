"""The house is in order: sizes, imports, words, and the lines that the README promises."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CODE = [
    path
    for top in ("planner", "sites", "tests")
    for path in sorted((ROOT / top).rglob("*.py"))
    if path.parent.name != "migrations"  # generated, or SQL that is never edited again
]
TEXT = [
    path
    for pattern in (
        "*.md",
        "*.toml",
        "*.txt",
        ".ci/*",
        "planner/**/*",
        "sites/**/*",
        "tests/**/*.py",
    )
    for path in sorted(ROOT.glob(pattern))
    if path.is_file() and path.suffix in {"", ".md", ".toml", ".txt", ".py", ".html", ".css", ".js"}
]
LONGEST = 400

PLACES = "/(?:" + "|".join(("home", "root", "work", "tmp", "opt")) + ")/"
STRANGE = {
    "a path of one machine": re.compile(rf"(?<![\w.]){PLACES}[\w.]"),
    "a download address in a requirement": re.compile(
        r"--(?:extra-)?index-url[ =]|--find-links[ =]"
    ),
    "a check that is switched off without a name": re.compile(r"#\s*(?:noqa|type:\s*ignore)\s*$"),
    "work that is put off": re.compile(r"\b(?:TO" + "DO|FIX" + r"ME|X" + r"XX)\b"),
}


def imported(path: Path) -> set[str]:
    """The modules that a file imports, inside functions too, but not for types alone."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module}
    return found


def users_of(package: str, under: str = "planner") -> set[str]:
    """The files below a folder that import a package."""
    return {
        str(path.relative_to(ROOT))
        for path in sorted((ROOT / under).rglob("*.py"))
        if any(name.split(".")[0] == package for name in imported(path))
    }


def test_no_file_is_too_long_to_be_read() -> None:
    assert len(CODE) > 50
    pages = list((ROOT / "planner").rglob("*.html")) + list((ROOT / "planner/static").rglob("*.*"))
    long = {
        str(path.relative_to(ROOT)): lines
        for path in CODE + pages
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST
    }
    assert long == {}


def test_every_module_says_what_it_is() -> None:
    silent = [
        str(path.relative_to(ROOT))
        for path in CODE
        if path.stat().st_size and not ast.get_docstring(ast.parse(path.read_text("utf-8")))
    ]
    assert silent == []


def test_nothing_is_imported_inside_a_function() -> None:
    hidden = [
        f"{path.relative_to(ROOT)}:{inner.lineno}"
        for path in CODE
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
        for inner in ast.walk(node)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]
    assert hidden == []


def test_only_booking_calls_the_solvers_and_only_one_module_the_compiler() -> None:
    solvers = users_of("ortools")
    assert solvers
    assert all(name.startswith("planner/engine/booking/") for name in solvers)
    assert users_of("numba") == {"planner/engine/compiled.py"}


@pytest.mark.parametrize("package", ["django", "pandas", "altair", "vl_convert", "random", "time"])
def test_what_the_engine_never_imports(package: str) -> None:
    """Plain data in and out; random numbers come from `rng`, the clock is the booking run's."""
    users = users_of(package, "planner/engine")
    if package == "time":
        users = {name for name in users if not name.startswith("planner/engine/booking/")}
    assert users == set()


@pytest.mark.parametrize("what", STRANGE)
def test_no_file_holds_what_does_not_belong(what: str) -> None:
    assert len(TEXT) > 80
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in TEXT
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if STRANGE[what].search(line)
    ]
    assert found == []


def test_requirements_are_pinned_with_hashes_and_agree() -> None:
    pins = {}
    for name in ("requirements.txt", "requirements-dev.txt"):
        text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ")
        lines = [line for line in text.splitlines() if line and not line.startswith("#")]
        assert lines
        assert all(re.match(r"[\w.-]+==\S+ .*--hash=sha256:[0-9a-f]{64}", line) for line in lines)
        pins[name] = {line.split("--hash")[0].strip() for line in lines}
    assert pins["requirements.txt"] <= pins["requirements-dev.txt"]


def test_everything_the_project_asks_for_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for name, wanted in (
        ("requirements.txt", project["dependencies"]),
        ("requirements-dev.txt", project["optional-dependencies"]["dev"]),
    ):
        pinned = set(re.findall(r"^([\w.-]+)==", (ROOT / name).read_text("utf-8"), re.MULTILINE))
        asked = {re.split(r"[<>=\[; ]", item)[0] for item in wanted}
        assert asked
        assert asked <= pinned


def test_the_readme_opens_with_the_job_and_the_two_lines() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    head, first, second, *_ = readme.split("\n\n")
    assert head.startswith("# Platen")
    assert first.startswith("Platen plans fingerprint capture over many sites")
    assert not second.startswith("#")
    for line in (
        "python3 -m venv .venv && .venv/bin/pip install -r requirements.txt"
        " && .venv/bin/python manage.py demo",
        "python3 -m venv .venv && .venv/bin/pip install -r requirements-dev.txt"
        " && .venv/bin/python -m pytest",
    ):
        assert readme.splitlines().count(line) == 1


def test_every_command_is_in_the_readme_and_no_other() -> None:
    rooms = ("planner", "sites")
    found = (path for room in rooms for path in ROOT.glob(f"{room}/management/commands/[a-z]*.py"))
    there = {path.stem for path in found} | {"migrate"}  # Django's own, without which none works
    named = set(re.findall(r"manage\.py ([a-z_]+)", (ROOT / "README.md").read_text("utf-8")))
    assert named == there


def test_every_path_that_the_documents_name_exists() -> None:
    text = "".join((ROOT / name).read_text("utf-8") for name in ("README.md", "DEVELOPERS.md"))
    paths = set(re.findall(r"`((?:planner|sites|tests|fixtures|\.ci)/[\w./-]*)`", text))
    assert len(paths) > 15
    assert [path for path in sorted(paths) if not (ROOT / path).exists()] == []
