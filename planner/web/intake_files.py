"""Files that the intake gives: an empty list to fill in, and a given list with its problems."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import cast

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_safe

from planner.web.access import asks
from sites.intake.columns import PROBLEM
from sites.intake.out import (
    CSV_TYPE,
    SHEET,
    XLSX_TYPE,
    csv_lines,
    template_csv,
    template_xlsx,
    workbook,
)
from sites.models import FindingKind, Intake, User
from sites.selectors.intakes import column_heads, findings, intake_head, intake_rows, intakes_of


@require_safe
@asks("intake.change")
def template(request: HttpRequest, kind: str) -> HttpResponseBase:
    """A list to fill in, with what each column takes."""
    if kind == "xlsx":
        return download(HttpResponse(template_xlsx(), content_type=XLSX_TYPE), "candidates.xlsx")
    answer = StreamingHttpResponse(template_csv(), content_type=CSV_TYPE)
    return download(answer, "candidates.csv")


@require_safe
@asks("intake.change")
def problems(request: HttpRequest, code: str) -> HttpResponseBase:
    """The given file, whole, with a ``problem`` column; as it was given, CSV or XLSX."""
    one = get_object_or_404(intakes_of(user=cast(User, request.user)), code=code)
    rows = with_problems(one)
    answer: HttpResponseBase
    if one.kind == "xlsx":
        answer = HttpResponse(workbook([(SHEET, rows)]), content_type=XLSX_TYPE)
    else:
        lines = csv_lines(rows, one.delimiter or ",")
        answer = StreamingHttpResponse(lines, content_type=CSV_TYPE)
    return download(answer, f"candidates-with-problems.{one.kind}")


def with_problems(one: Intake) -> Iterator[list[str]]:
    """Head and rows of a file with what is wrong in the last column."""
    said: dict[int, list[str]] = defaultdict(list)
    heads = column_heads(intake=one)
    kinds = [FindingKind.FAULT, FindingKind.DOUBLE, FindingKind.KNOWN]
    for each in findings(intake=one, kinds=[*map(str, kinds)]):
        said[each.number].append(f"{heads[each.column]} {each.problem}: {each.remedy}")
    own = intake_head(intake=one)
    keep = [number for number, words in enumerate(own) if words.casefold() != PROBLEM]
    yield [*(own[number] for number in keep), PROBLEM]
    for row in intake_rows(intake=one):
        yield [*(row.cells[number] for number in keep), "; ".join(said[row.number])]


def download(answer: HttpResponseBase, name: str) -> HttpResponseBase:
    """An answer that a browser keeps as a file and no cache keeps at all."""
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    add_never_cache_headers(answer)
    return answer
