"""Bodies: JSON, strictly (an object in UTF-8, nothing that only some readers take), or a form."""

from __future__ import annotations

from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser, MultiPartParser

from planner.api.kinds import KINDS


class StrictJson(JSONParser):
    """RFC 8259; numbers that are none (NaN, Infinity) are refused, and so is endless nesting."""

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None
    ) -> Any:
        """The value. Raises ParseError with the place where it stops being JSON."""
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError:
            raise ParseError(f"It is nested too deeply. {KINDS['not_json'].remedy}") from None


class Form(MultiPartParser):
    """RFC 7578, for bodies that hold a file."""
