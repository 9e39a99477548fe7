"""Files that the intake gives: an empty list to fill in, and a given list with its problems."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_safe

from planner.web.access import asks
from sites.intake.out import (
    CSV_TYPE,
    SHEET,
    XLSX_TYPE,
    csv_lines,
    template_csv,
    template_xlsx,
    workbook,
)
from sites.models import User
from sites.selectors.intakes import intake_with_problems, intakes_of


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
    rows = intake_with_problems(intake=one)
    answer: HttpResponseBase
    if one.kind == "xlsx":
        answer = HttpResponse(workbook([(SHEET, rows)]), content_type=XLSX_TYPE)
    else:
        lines = csv_lines(rows, one.delimiter or ",")
        answer = StreamingHttpResponse(lines, content_type=CSV_TYPE)
    return download(answer, f"candidates-with-problems.{one.kind}")


def download(answer: HttpResponseBase, name: str) -> HttpResponseBase:
    """An answer that a browser keeps as a file and no cache keeps at all."""
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    add_never_cache_headers(answer)
    return answer
