"""Columns, dates and cells: what is understood, what is asked, what is refused and how."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sites.intake.columns import COLUMNS, DATES, NAMES, folded, matched
from sites.intake.dates import NotADate, as_written, read_date
from sites.intake.known import Around, Scheme, Terms, by_name
from sites.intake.rows import read_row, values_of

TODAY = date(2027, 3, 10)
TERMS = (Terms(11, date(2026, 1, 1), 14, 120), Terms(12, date(2027, 3, 1), 21, 90))
AROUND = Around(
    today=TODAY,
    schemes={1: Scheme(1, "teach", TERMS)},
    programmes=by_name([(1, "teach", "Teachers"), (2, "care", "Twice"), (3, "ward", "Twice")]),
    profiles=by_name([(5, "full", "Full set")]),
    sites=by_name([(7, "north", "North Hall"), (8, "south", "South")]),
    areas=by_name([(9, "east", "East side")]),
    features=by_name([(20, "accessible", ""), (21, "screen", "Screen")]),
    skills=by_name([(30, "difficult", "Difficult captures")]),
    programme=1,
    profile=5,
)


def faults(order: str = "", **cells: str) -> list[tuple[str, str]]:
    """Column and problem of each fault of a row with a reference."""
    around = AROUND if not order else Around(**fields(AROUND) | {"order": order})
    return [(each.column, each.problem) for each in read_row(with_reference(cells), around).faults]


def with_reference(cells: dict[str, str]) -> dict[str, str]:
    """A row that has a reference unless it says otherwise."""
    return {"reference": "A-1", **cells}


def good(around: Around = AROUND, **cells: str) -> Any:
    """The candidate of a row that has no fault."""
    read = read_row(with_reference(cells), around)
    assert read.faults == []
    assert read.candidate is not None
    return read.candidate


def fields(around: Around) -> dict[str, Any]:
    """The values of what is around."""
    return {name: getattr(around, name) for name in Around.__slots__}


def test_heads_are_matched_whatever_their_case_marks_and_spaces() -> None:
    head = ["E-Mail", "LAST NAME", "Référence", "shoe size", "Due date", "due"]
    assert matched(head) == ["email", "family_name", "reference", "", "due", ""]
    assert matched(["Reference", "can come"]) == ["reference", "times"]


def test_no_two_columns_share_a_name() -> None:
    names = [
        folded(name)
        for column in COLUMNS
        for name in {folded(each) for each in (column.key, column.words, *column.also)}
    ]
    assert len(names) == len(set(names)) == len(NAMES)
    assert {column.key for column in COLUMNS} >= set(DATES)


def test_a_row_with_a_reference_alone_takes_the_rest_from_its_programme() -> None:
    one = good()
    assert (one.received, one.release, one.due) == (TODAY, TODAY, TODAY + timedelta(days=21))
    assert one.expires == TODAY + timedelta(days=90)
    assert (one.programme, one.terms, one.profile, one.priority) == (1, 12, 5, 1.0)


def test_the_terms_are_those_of_the_day_it_was_received() -> None:
    one = good(received="2027-02-20")
    assert (one.terms, one.due) == (11, date(2027, 3, 6))


def test_a_full_row_is_read() -> None:
    one = good(
        programme="Teachers",
        profile="FULL",
        name="Tavoren, Ilmi",
        phone="+00 555 01-42",
        email="i@example.org",
        language="pt-BR",
        received="1 Mar 2027",
        release="2027-03-03",
        due="March 22, 2027",
        sites="north hall; SOUTH",
        needs="access; longer; Screen; difficult",
        times="2027-03-12 9:00-12:00; 2027-03-15",
        area="east",
        priority="2,5",
        subject="P-1",
    )
    assert (one.family_name, one.given_name) == ("Tavoren", "Ilmi")
    assert (one.received, one.release, one.due) == (
        date(2027, 3, 1), date(2027, 3, 3), date(2027, 3, 22),
    )  # fmt: skip
    assert (one.sites, one.features, one.skills) == ((7, 8), (21,), (30,))
    assert (one.access, one.longer, one.area, one.priority) == (True, True, 9, 2.5)
    assert one.times == ((date(2027, 3, 12), 540, 180), (date(2027, 3, 15), 0, 1440))


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"reference": ""}, "reference", "is empty"),
        ({"reference": "x" * 65}, "reference", "longer than 64"),
        ({"reference": "=A1"}, "reference", "is a formula"),
        ({"reference": "#REF!"}, "reference", "error of the spreadsheet"),
        ({"reference": "a\x07"}, "reference", "no text has"),
        ({"programme": "nowhere"}, "programme", "is not set up"),
        ({"programme": "Twice"}, "programme", "more than one programme"),
        ({"profile": "half"}, "profile", "kind of session that is not set up"),
        ({"name": "Tavoren"}, "name", "has no comma"),
        ({"family_name": "12345"}, "family_name", "is no name"),
        ({"phone": "call me"}, "phone", "is no phone number"),
        ({"phone": "12345"}, "phone", "is no phone number"),
        ({"phone": "1234567890123456"}, "phone", "is no phone number"),
        ({"email": "nobody"}, "email", "is no mail address"),
        ({"language": "english!"}, "language", "is no language tag"),
        ({"received": "2027-03-11"}, "received", "in the future"),
        ({"received": "2025-12-31"}, "received", "before teach has any parameters"),
        ({"due": "2027-02-30"}, "due", "no day of the calendar"),
        ({"due": "3/4/27"}, "due", "year of two digits"),
        ({"due": "soon"}, "due", "is no date"),
        ({"due": "1927-03-30"}, "due", "too far away"),
        ({"due": "2027-03-09"}, "due", "leaves no day"),
        ({"release": "2027-04-09"}, "release", "leaves no day"),
        ({"due": "2027-12-31"}, "due", "after the request expires"),
        ({"sites": "north; moon"}, "sites", "is not set up"),
        ({"needs": "a bad back"}, "needs", "is not set up"),
        ({"times": "2027-03-12 12:00-09:00"}, "times", "span that is none"),
        ({"times": "2027-03-12 09:75-12:00"}, "times", "span that is none"),
        ({"times": "mornings"}, "times", "is no date"),
        ({"times": "2028-03-12"}, "times", "holds no day from release to expiry"),
        ({"area": "west"}, "area", "is not set up"),
        ({"priority": "0"}, "priority", "no number above 0"),
        ({"priority": "1e9"}, "priority", "no number above 0"),
    ],
)
def test_each_fault_names_its_column_and_its_remedy(
    cells: dict[str, str], column: str, words: str
) -> None:
    read = read_row(with_reference(cells), AROUND)
    [fault] = read.faults
    assert read.candidate is None
    assert (fault.column, words in fault.problem) == (column, True)
    assert len(fault.remedy) > 10
    # What is kept of a fault is not sealed: it never repeats the value.
    said = fault.problem + fault.remedy
    assert not any(len(value) > 2 and value in said for value in cells.values())


def test_all_faults_of_a_row_come_at_once() -> None:
    found = faults(phone="x", email="x", due="x", sites="x", reference="")
    assert [column for column, _ in found] == ["reference", "due", "phone", "email", "sites"]


def test_a_row_without_a_programme_is_a_fault_where_none_holds_for_the_file() -> None:
    around = Around(**fields(AROUND) | {"programme": None, "profile": None})
    found = read_row({"reference": "A-1"}, around).faults
    assert [(each.column, each.problem) for each in found] == [
        ("programme", "is empty"), ("profile", "is empty"),
    ]  # fmt: skip


def test_the_order_of_day_and_month_is_asked_and_never_guessed() -> None:
    assert faults(due="12/03/2027") == [("due", "can be read in two ways")]
    assert faults(due="25/03/2027") == [("due", "can be read in two ways")]
    assert faults(order="mdy", due="25/03/2027") == [("due", "is no day of the calendar")]
    assert read_date("12/03/2027", "dmy") == date(2027, 3, 12)
    assert read_date("12/03/2027", "mdy") == date(2027, 12, 3)


def test_what_the_order_matters_for_is_counted_with_an_example_that_both_allow() -> None:
    found = as_written(["2027-03-01", "25.12.2027", "3.3.2027", "4/5/2027 09:00-10:00", "", "x"])
    assert found is not None
    assert (found.count, found.dmy, found.mdy, found.example) == (3, 3, 2, "4/5/2027")
    assert found.readings() == {"dmy": "2027-05-04", "mdy": "2027-04-05"}
    assert as_written(["2027-03-01", "2027-03-02 09:00-12:00", "1 Mar 2027"]) is None


@given(st.dates(date(2000, 1, 1), date(2100, 12, 31)), st.sampled_from(["dmy", "mdy"]))
def test_every_date_is_read_back_in_its_order(day: date, order: str) -> None:
    """Written by the standard library's own formatting."""
    numbers = "%d/%m/%Y" if order == "dmy" else "%m/%d/%Y"
    for form in (numbers, "%Y-%m-%d", "%d %B %Y", "%b %d, %Y", numbers.replace("/", ".")):
        assert read_date(day.strftime(form), order) == day


@given(st.text(max_size=20), st.sampled_from(["", "dmy", "mdy"]))
def test_any_text_is_a_date_or_says_why_not(text: str, order: str) -> None:
    said = ""
    try:
        found = read_date(text, order)
    except NotADate as error:
        said = f"{error.problem}: {error.remedy}"
    assert bool(said) or isinstance(found, date)


@given(st.dictionaries(st.sampled_from([each.key for each in COLUMNS]), st.text(max_size=40)))
def test_any_row_is_a_candidate_or_has_faults(cells: dict[str, str]) -> None:
    read = read_row(cells, AROUND)
    assert (read.candidate is None) == bool(read.faults)
    if read.candidate:
        assert read.candidate.release <= read.candidate.due <= read.candidate.expires


def test_a_phone_that_a_download_guarded_is_read_without_its_apostrophe() -> None:
    assert good(phone="'+00 555 0142").phone == "+00 555 0142"


def test_columns_that_are_not_used_are_not_read() -> None:
    assert values_of(("A-1", "secret", "x"), ("reference", "", "due")) == {
        "reference": "A-1",
        "due": "x",
    }
