"""Tables as files, CSV or a workbook: whatever Accept names, CSV where it does not say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, ClassVar

from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.response import Response

from planner.api.operation import Operation, Unkept
from sites.intake.out import CSV_TYPE, SHEET, XLSX_TYPE, csv_lines, workbook
from sites.models import User


class FileRenderer(BaseRenderer):
    """Bytes as they are; problem details as JSON."""

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None
    ) -> bytes:
        """The bytes of the answer."""
        return data if isinstance(data, bytes) else JSONRenderer().render(data)


class Csv(FileRenderer):
    """RFC 4180, in UTF-8."""

    media_type, format = CSV_TYPE.partition(";")[0], "csv"


class Xlsx(FileRenderer):
    """A workbook (ISO/IEC 29500)."""

    media_type, format, charset, render_style = XLSX_TYPE, "xlsx", None, "binary"


class Ics(FileRenderer):
    """RFC 5545."""

    media_type, format = "text/calendar", "ics"


class FileRead(Unkept, Operation):
    """A table as a file; cells that a spreadsheet would run are marked as texts."""

    method = "GET"
    renderer_classes = (Csv, Xlsx)
    gives: ClassVar[Any] = {"type": "string", "format": "binary"}
    named: ClassVar[str]

    def rows(self, user: User, **path: Any) -> Iterable[Sequence[str]]:
        """Head and rows; raises Http404."""
        raise NotImplementedError

    def as_csv(self, user: User, **path: Any) -> bytes:
        """The table as CSV."""
        return "".join(csv_lines(self.rows(user, **path))).encode()

    def as_xlsx(self, user: User, **path: Any) -> bytes:
        """The table as a workbook."""
        return workbook([(SHEET, self.rows(user, **path))])

    def get(self, request: Any, **path: Any) -> Response:
        """The file, under a name of its own."""
        kind = request.accepted_renderer.format
        data = (self.as_xlsx if kind == "xlsx" else self.as_csv)(request.user, **path)
        answer = Response(data)
        answer["Content-Disposition"] = f'attachment; filename="{self.named}.{kind}"'
        return answer
