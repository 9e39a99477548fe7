"""What programmes call their requests and people, and which of it the record has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sites.intake.known import Around, Candidate, Fault, Read
from sites.intake.rows import read_row
from sites.models import ExternalReference, Request, Subject


def references_taken(candidates: Sequence[Candidate]) -> set[tuple[int, str]]:
    """Programme and reference of those that the record has a request for, in two queries."""
    texts = {each.reference for each in candidates}
    named = ExternalReference.objects.filter(text__in=texts).values_list("programme_id", "text")
    own = Request.objects.filter(reference__in=texts, external__isnull=True)
    there = {*named, *own.values_list("terms__programme_id", "reference")}
    return there & {(each.programme, each.reference) for each in candidates}


def people_known(candidates: Sequence[Candidate]) -> set[str]:
    """References of people that the record has, in one query."""
    texts = {each.subject for each in candidates if each.subject}
    return set(Subject.objects.filter(reference__in=texts).values_list("reference", flat=True))


def candidate_read(*, texts: Mapping[str, str], known: Around) -> Read:
    """One candidate read as the row of a list is; that the record has it already is a fault."""
    read = read_row(texts, known)
    if read.candidate and references_taken([read.candidate]):
        fault = Fault("reference", "is in the record already", "look it up under Requests")
        return Read(faults=[fault])
    return read
