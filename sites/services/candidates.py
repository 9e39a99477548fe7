"""Candidates become subjects and requests: many at once, all or none."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from django.db import models

from sites.errors import ChangedMeanwhile
from sites.intake.known import Candidate
from sites.models import (
    ExternalReference,
    Feature,
    HomeArea,
    Programme,
    Request,
    RequestSite,
    RequestTime,
    Site,
    Subject,
    TravelTime,
)
from sites.selectors.external import references_taken
from sites.selectors.parts import AT_ONCE, parts
from sites.selectors.travel import travel_minutes
from sites.services.requests import ACCESSIBLE
from sites.services.write import written

LONGEST = 64  # signs of a reference


@written
def candidates_take(*, candidates: Sequence[Candidate]) -> list[Request]:
    """Make a request of each candidate, and a subject where the record has not that person.

    A request keeps the programme's reference as its own where it can stand in an address and no
    other request has it; else one is made from it. The programme's own is kept as it was written.
    Raises ChangedMeanwhile where the record has one of the requests by now; nothing is written
    then.
    """
    for part in parts(candidates):
        for _, text in references_taken(part):
            raise ChangedMeanwhile(text, "was taken in meanwhile", "read the file again")
    people = subjects_of(candidates)
    codes = dict(Programme.objects.values_list("pk", "code"))
    names = own_references(
        [(one.reference, codes[one.programme]) for one in candidates], Request.objects.all()
    )
    requests = [
        Request(
            reference=name,
            subject=people[number],
            terms_id=one.terms,
            profile_id=one.profile,
            received=one.received,
            release=one.release,
            due=one.due,
            expires=one.expires,
            priority=one.priority,
        )
        for number, (one, name) in enumerate(zip(candidates, names, strict=True))
    ]
    Request.objects.bulk_create(requests, batch_size=AT_ONCE)
    ExternalReference.objects.bulk_create(
        (
            ExternalReference(programme_id=one.programme, text=one.reference, request=request)
            for one, request in zip(candidates, requests, strict=True)
        ),
        batch_size=AT_ONCE,
    )
    add_words(candidates, requests)
    add_places(candidates, requests)
    return requests


def subjects_of(candidates: Sequence[Candidate]) -> list[Subject]:
    """The person of each candidate: of the record, of another row, or new."""
    there: dict[str, Subject] = {}
    for part in parts(candidates):
        texts = {one.subject for one in part if one.subject}
        there |= {row.reference: row for row in Subject.objects.filter(reference__in=texts)}
    new: list[Candidate] = []
    places: dict[int, int] = {}  # of a candidate: which of the new people
    first: dict[str, int] = {}
    for number, one in enumerate(candidates):
        if one.subject in there:
            continue
        if one.subject and one.subject in first:
            places[number] = first[one.subject]
            continue
        places[number] = len(new)
        if one.subject:
            first[one.subject] = len(new)
        new.append(one)
    codes = dict(Programme.objects.values_list("pk", "code"))
    names = own_references(
        [(one.reference, codes[one.programme]) for one in new if not one.subject],
        Subject.objects.all(),
        set(first),
    )
    given = iter(names)
    made = [subject_of(one, one.subject or next(given)) for one in new]
    Subject.objects.bulk_create(made, batch_size=AT_ONCE)
    return [
        made[places[number]] if number in places else there[one.subject]
        for number, one in enumerate(candidates)
    ]


def subject_of(one: Candidate, reference: str) -> Subject:
    """A new person, unsaved, with the hashes that find them."""
    person = Subject(
        reference=reference,
        given_name=one.given_name,
        family_name=one.family_name,
        phone=one.phone,
        email=one.email,
        language=one.language,
        needs_access=one.access,
        needs_longer=one.longer,
        home_area_id=one.area,
    )
    person.set_keys()
    return person


def own_references(
    wanted: list[tuple[str, str]],
    rows: models.QuerySet[Any],
    taken: Iterable[str] = (),
) -> list[str]:
    """A reference that no row has, for each (programme's reference, programme's code)."""
    used = set(taken)
    plain = [re.sub(r"[^A-Za-z0-9_-]+", "-", text).strip("-")[:LONGEST] for text, _ in wanted]
    for part in parts(plain):
        used |= set(rows.filter(reference__in=part).values_list("reference", flat=True))
    found = []
    for (_, code), text in zip(wanted, plain, strict=True):
        name = text if text and text not in used else f"{code}-{text}"[:LONGEST]
        number = 2
        while name in used or rows_have(name, text, rows):
            name = f"{f'{code}-{text}'[: LONGEST - 8]}-{number}"
            number += 1
        used.add(name)
        found.append(name)
    return found


def rows_have(name: str, asked: str, rows: models.QuerySet[Any]) -> bool:
    """Whether a row has a name that was not asked for with the others."""
    return name != asked and bool(rows.filter(reference=name).exists())


def add_words(candidates: Sequence[Candidate], requests: list[Request]) -> None:
    """Station features and technician skills that the requests ask for."""
    both = list(zip(candidates, requests, strict=True))
    access = None
    if any(one.access for one in candidates):
        access = Feature.objects.get_or_create(code=ACCESSIBLE)[0].pk

    def features(one: Candidate) -> Iterable[int]:
        own = (access,) if one.access and access is not None else ()
        return dict.fromkeys((*one.features, *own))

    def skills(one: Candidate) -> Iterable[int]:
        return one.skills

    ways: tuple[tuple[str, Callable[[Candidate], Iterable[int]]], ...] = (
        ("feature", features),
        ("skill", skills),
    )
    for name, of in ways:
        through = getattr(Request, f"{name}s").through
        through.objects.bulk_create(
            (
                through(**{"request_id": request.pk, f"{name}_id": key})
                for one, request in both
                for key in of(one)
            ),
            batch_size=AT_ONCE,
        )


def add_places(candidates: Sequence[Candidate], requests: list[Request]) -> None:
    """Sites that can take the requests, with the travel there, and when the people can come."""
    keys = {key for one in candidates for key in one.sites}
    sites = Site.objects.in_bulk(list(keys))
    areas = HomeArea.objects.in_bulk(list({one.area for one in candidates if one.area}))
    rows = TravelTime.objects.filter(area__in=list(areas))
    given = {(row.area_id, row.site_id): row.minutes for row in rows}
    both = list(zip(candidates, requests, strict=True))

    def travel(area: int | None, site: int) -> int:
        if area is None:
            return 0
        return travel_minutes(area=areas[area], site=sites[site], given=given) or 0

    RequestSite.objects.bulk_create(
        (
            RequestSite(request=request, site_id=site, travel=travel(one.area, site))
            for one, request in both
            for site in one.sites
        ),
        batch_size=AT_ONCE,
    )
    RequestTime.objects.bulk_create(
        (
            RequestTime(request=request, day=day, minute=minute, minutes=minutes)
            for one, request in both
            for day, minute, minutes in one.times
        ),
        batch_size=AT_ONCE,
    )
