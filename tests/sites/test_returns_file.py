"""Files of responses: what is wrong by row, nothing twice, all of it or nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.errors import BadValue, ChangedMeanwhile
from sites.models import ExceptionRoute, Response, ResponseKind, Submission
from sites.selectors.returns_file import MOST_ROWS, Sheet, one_response, responses_read
from sites.services.returns import responses_register
from tests.sites.back import SENT, came_back, sent
from tests.sites.build import World

NOW = SENT + timedelta(days=3)
HEAD = "control number,kind,code,date\n"


def read(data: bytes | str) -> Sheet:
    """Read a file on the third day after `SENT`."""
    return responses_read(data=data, now=NOW, submissions=Submission.objects.all())


@pytest.fixture
def three(here: World) -> World:
    """Three sets that were sent."""
    for number, minute in ((1, 600), (2, 640), (3, 680)):
        sent(here, f"r-{number}", f"n-{number}", minute)
    return here


@pytest.mark.parametrize(
    "data",
    [
        "control number,kind,code,date\nn-1,image,Q7,2026-03-03\nn-2,accepted,,2026-03-04\n",
        "Date;Kind;Control_Number\r\n2026-03-03;IMAGE;n-1\r\n\r\n2026-03-04;Accepted;n-2\r\n",
        "\ufeffKIND\tDATE\tCONTROL  NUMBER\nimage\t2026-03-03\tn-1\naccepted\t2026-03-04\tn-2",
    ],
)
def test_columns_come_in_any_order_with_any_of_three_signs(three: World, data: str) -> None:
    for given in (data, data.encode()):
        sheet = read(given)
        assert sheet.faults == []
        assert [(row.submission.control_number, row.kind) for row in sheet.rows] == [
            ("n-1", ResponseKind.IMAGE),
            ("n-2", ResponseKind.ACCEPTED),
        ]


def test_the_same_file_twice_registers_nothing_twice(three: World) -> None:
    data = HEAD + "n-1,image,Q7,2026-03-03\nn-2,data,,2026-03-05\n"
    first = read(data)
    assert responses_register(rows=first.rows) == 2
    again = read(data)
    assert (again.rows, again.known, again.faults) == ([], 2, [])
    assert Response.objects.get(submission__control_number="n-1").code == "Q7"
    # Somebody who looked before it was registered finds that it was.
    with pytest.raises(ChangedMeanwhile):
        responses_register(rows=first.rows)
    assert Response.objects.count() == 2


def test_a_row_in_the_way_keeps_the_whole_file_out(three: World) -> None:
    sheet = read(HEAD + "n-1,image,,2026-03-03\nn-2,image,,2026-03-03\n")
    came_back(Submission.objects.get(control_number="n-2"), ResponseKind.DATA)
    with pytest.raises(ChangedMeanwhile):
        responses_register(rows=sheet.rows)
    assert Response.objects.count() == 1


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("n-9,image,,2026-03-03", "control number", "is of no set that was sent on; check"),
        (",image,,2026-03-03", "control number", "is empty"),
        ("n-1,blurred,,2026-03-03", "kind", "write one of accepted, image, data, transmission"),
        ("n-1,image,,03/03/2026", "date", "is no date; write it as 2027-03-09"),
        ("n-1,image,,2026-03-01", "date", "is not from 2026-03-02 (the set was sent on)"),
        ("n-1,image,,2026-03-06", "date", "to 2026-03-05 (today)"),
        (f"n-1,image,{'Q' * 33},2026-03-03", "code", "is longer than 32 signs"),
        ("n-3,data,,2026-03-03", "control number", "has another response: returned: image"),
    ],
)
def test_a_fault_names_line_column_value_and_remedy(
    three: World, row: str, column: str, words: str
) -> None:
    came_back(Submission.objects.get(control_number="n-3"), ResponseKind.IMAGE)
    sheet = read(HEAD + "n-2,accepted,,2026-03-03\n" + row + "\n")
    assert len(sheet.rows) == 1
    (fault,) = sheet.faults
    assert (fault.line, fault.column) == (3, column)
    assert words in str(fault)


def test_one_number_with_two_answers_is_asked_about(three: World) -> None:
    sheet = read(HEAD + "n-1,image,,2026-03-03\nn-1,image,,2026-03-03\nn-1,data,,2026-03-03\n")
    assert len(sheet.rows) == 1
    assert [str(fault) for fault in sheet.faults] == [
        "line 4, control number, 'n-1': stands in line 2 with another answer; leave the right one"
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "has no column control number, kind, date"),
        (b"number,kind,date\n", "has no column control number; name the columns"),
        (b"control number,kind,date\n\xff\xfe", "is not UTF-8 text"),
        (b"PK\x03\x04\x00\x00", "has no column"),
        (HEAD.encode() + b"n-1,image,,2026-03-03\n" * (MOST_ROWS + 1), "has more than 20000 lines"),
        (HEAD.encode() + b'"' + b"x" * 200_000 + b'",image,,2026-03-03\n', "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_whole(here: World, data: bytes, words: str) -> None:
    with pytest.raises(BadValue, match=words):
        read(data)


def test_a_set_out_of_view_is_as_if_it_were_not_there(three: World) -> None:
    sheet = responses_read(
        data=HEAD + "n-1,image,,2026-03-03\n", now=NOW, submissions=Submission.objects.none()
    )
    assert "is of no set that was sent on" in str(sheet.faults[0])


def test_one_response_is_read_by_the_same_rules(three: World) -> None:
    values = {"kind": ResponseKind.IMAGE, "code": "", "day": SENT.date(), "now": NOW}
    everything = Submission.objects.all()
    row = one_response(number="n-1", submissions=everything, **values)  # type: ignore[arg-type]
    assert row is not None
    assert row.at == SENT  # noon at the site was before the set was sent
    responses_register(rows=[row])
    assert one_response(number="n-1", submissions=everything, **values) is None  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="n-9: is of no set that was sent on"):
        one_response(number="n-9", submissions=everything, **values)  # type: ignore[arg-type]


def test_a_second_image_return_in_a_file_opens_the_exception_route(three: World) -> None:
    Submission.objects.filter(control_number="n-2").update(
        request=Submission.objects.get(control_number="n-1").request_id
    )
    sheet = read(HEAD + "n-1,image,,2026-03-03\nn-2,image,,2026-03-04\n")
    responses_register(rows=sheet.rows)
    route = ExceptionRoute.objects.get()
    assert (route.first_number, route.second_number) == ("n-1", "n-2")
