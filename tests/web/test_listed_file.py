"""The list as a CSV file: the same rows in the same order, and nothing about a person."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.web import listed_file
from sites.models import Programme, Request, Site, Subject
from tests.sites.build import World
from tests.web.test_requests import many


def read(client: Client, query: str = "") -> list[dict[str, str]]:
    """The rows of the file, read by Python's own reader."""
    answer: Any = client.get(f"/requests.csv?{query}")
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == 'attachment; filename="requests-2026-03-02.csv"'
    assert "no-store" in answer["Cache-Control"]
    return list(csv.DictReader(io.StringIO(answer.getvalue().decode("utf-8-sig"))))


@pytest.mark.parametrize(
    "query", ["", "standing=all&sort=-due", "standing=booked", "q=back&sort=reference", "q=nobody"]
)
def test_the_file_has_the_rows_of_the_list_in_its_order(desk: Client, query: str) -> None:
    lines = desk.get(f"/requests/?{query}").context["lines"]
    rows = read(desk, query)
    assert [row["reference"] for row in rows] == [line.request.reference for line in lines]
    for row, line in zip(rows, lines, strict=True):
        assert row["stands_at"] == line.standing
        assert int(row["slack_days"]) == line.request.slack.days
        assert row["due"] == line.request.due.isoformat()
        assert (row["appointment"] == "") == (line.appointment is None)


def test_an_appointment_is_told_on_the_clock_of_its_site(desk: Client) -> None:
    row = read(desk, "q=booked")[0]
    found = [row[name] for name in ("appointment", "told_time", "site", "time_zone", "rework")]
    assert found == ["2026-03-02", "11:30", "site-1", "Europe/Vienna", "no"]
    late = read(desk, "q=late")[0]
    assert late["slack_days"] == "-1"  # a number, and no formula
    assert late["told_time"] == ""


def test_no_text_of_the_file_is_a_formula_or_names_anybody(here: World, desk: Client) -> None:
    Programme.objects.update(code="=1+1")
    Site.objects.update(code="@site", name="-Site")
    for subject in Subject.objects.all()[:3]:
        subject.family_name, subject.phone = "Tavorenplanted", "+00 555 0147"
        subject.reference = f"planted-{subject.pk}"
        subject.save()
    answer: Any = desk.get("/requests.csv?standing=all")
    text = answer.getvalue().decode()
    assert "planted" not in text
    assert "555" not in text
    row = read(desk, "q=booked")[0]
    assert (row["programme"], row["site"]) == ("'=1+1", "'@site")


def test_all_rows_come_in_parts_of_a_fixed_size(
    here: World, desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    many(here, 130)
    monkeypatch.setattr(listed_file, "AT_ONCE", 50)
    with CaptureQueriesContext(connection) as asked:
        rows = read(desk, "q=many")
    assert len({row["reference"] for row in rows}) == 130
    assert Request.objects.count() > 130
    with CaptureQueriesContext(connection) as less:
        read(desk, "q=many-1&sort=due")
    assert len(asked) - len(less) == 4  # two a part: 130 rows are three parts, 41 are one


def test_a_refused_filter_makes_no_file_with_more_than_was_meant(desk: Client) -> None:
    answer = desk.get("/requests.csv?standing=asleep")
    assert answer.status_code == 422
    assert "the filter standing is refused" in answer.content.decode()
    assert "late" not in answer.content.decode()


def test_the_list_leads_to_its_file(desk: Client) -> None:
    text = desk.get("/requests/?rework=yes&page=1").content.decode()
    assert 'href="/requests.csv?rework=yes"' in text
