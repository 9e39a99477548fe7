"""What nobody foresaw, in the form of every other refusal; logged under the number it names."""

from __future__ import annotations

import logging

from django.http import HttpRequest, HttpResponse

from planner.api.kinds import KINDS
from planner.api.problems import Problem, plain

log = logging.getLogger(__name__)
HERE = "/api/"


def failed(request: HttpRequest) -> HttpResponse:
    """500: the log has the traceback, the answer the number to find it by."""
    problem = Problem("fault", KINDS["fault"].remedy)
    told = {"request": request}  # the log shows the pattern of its address, not the address
    log.error("fault in %s %s: %s", request.method, request.path, problem.instance, extra=told)
    return plain(problem)


def bad(request: HttpRequest) -> HttpResponse:
    """400: a request that could not even be read."""
    return plain(Problem("invalid", "The request cannot be read: check its address and headers."))
