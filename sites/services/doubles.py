"""Doubles in a file of candidates: the same reference, or likely the same person.

Likely the same person: the same family name and the same phone number or mail address, and no two
different given names; in the record, with a request that was received in the last half year and is
not closed, for later ones are usual where a set has to be renewed. People are compared by keyed
hashes; only where those agree is a name of the record opened.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from sites.access import requests_visible
from sites.crypto import lookup
from sites.intake.known import Candidate
from sites.models import FindingKind, Intake, IntakeFinding, Request, Subject, User

AT_ONCE = 500
RECENT = timedelta(days=183)  # ours


class Keys(NamedTuple):
    """Row number and keyed hashes, as a block keeps them."""

    number: int
    reference: str
    given: str
    family: str
    phone: str
    email: str

    def ways(self) -> Iterator[tuple[str, str, str]]:
        """Family name with each contact that is given."""
        if self.family:
            for name in ("phone", "email"):
                if key := getattr(self, name):
                    yield name, self.family, key


def keys_of(number: int, one: Candidate) -> Keys:
    """The keyed hashes of a candidate.

    No names and contact where the programme itself says who the person is: then two rows of one
    person are two requests.
    """
    who = ("",) * 4 if one.subject else (one.given_name, one.family_name, one.phone, one.email)
    reference = lookup(f"{one.programme}+{one.reference.encode().hex()}")
    return Keys(number, reference, *map(lookup, who))


def find_doubles(*, intake: Intake) -> None:
    """Write a finding for every row whose reference or person occurred before."""
    lists = intake.blocks.order_by("first").values_list("keys", flat=True)
    rows = [Keys(*keys) for block in lists for keys in block or ()]
    known = set(intake.findings.filter(kind=FindingKind.KNOWN).values_list("number", flat=True))
    found = list(same_reference(intake, rows))
    done = known | {each.number for each in found}
    rows = [row for row in rows if row.number not in done]
    in_file = list(same_person(intake, rows))
    named = {each.number for each in in_file}
    in_record = in_the_record(intake, [row for row in rows if row.number not in named])
    IntakeFinding.objects.bulk_create([*found, *in_file, *in_record], batch_size=2000)


def same_reference(intake: Intake, rows: list[Keys]) -> Iterator[IntakeFinding]:
    """The second and later rows with one reference: a fault, for only one of them can be meant."""
    first: dict[str, int] = {}
    for row in rows:
        before = first.setdefault(row.reference, row.number)
        if before != row.number:
            yield IntakeFinding(
                intake=intake,
                number=row.number,
                kind=FindingKind.FAULT,
                column="reference",
                problem=f"is also the reference of row {before}",
                remedy="give each request its own, or delete one of the rows",
            )


def same_person(intake: Intake, rows: list[Keys]) -> Iterator[IntakeFinding]:
    """Rows that are likely of a person of an earlier row."""
    first: dict[tuple[str, str, str], list[Keys]] = {}
    for row in rows:
        same = None
        for way in row.ways():
            before = first.setdefault(way, [])
            same = same or next((one for one in before if alike(one.given, row.given)), None)
            before.append(row)
        if same is not None:
            yield double(intake, row.number, f"is likely the person of row {same.number}")


def alike(one: str, other: str) -> bool:
    """Whether two given names may be one person's: equal, or one of them not said."""
    return one == other or not one or not other


def person_alike(*, candidate: Candidate, today: date, seen_by: User) -> str:
    """The request of a person who is likely a candidate, in words; "" where there is none."""
    row = keys_of(0, candidate)
    people = same_people([row]) if row.family else {}
    found = latest_request({each.pk for each in people.values()}, today - RECENT, seen_by)
    return next(iter(found.values()), "")


def in_the_record(intake: Intake, rows: list[Keys]) -> Iterator[IntakeFinding]:
    """Rows that are likely of a person with a request in the record."""
    for start in range(0, len(rows), AT_ONCE):
        same = same_people([row for row in rows[start : start + AT_ONCE] if row.family])
        since = intake.given_at.date() - RECENT
        names = latest_request({person.pk for person in same.values()}, since, intake.by)
        for number, person in same.items():
            if text := names.get(person.pk):
                yield double(intake, number, f"is likely the person of {text}")


def same_people(rows: list[Keys]) -> dict[int, Subject]:
    """By row number, a person of the record who is likely the row's."""
    there: dict[tuple[str, str, str], list[Subject]] = {}
    for name in ("phone", "email"):
        keys = {getattr(row, name) for row in rows} - {""}
        for one in Subject.objects.filter(**{f"{name}_key__in": keys}):
            way = (name, one.family_name_key, getattr(one, f"{name}_key"))
            there.setdefault(way, []).append(one)
    return {row.number: person for row in rows if (person := one_alike(row, there))}


def one_alike(row: Keys, there: dict[tuple[str, str, str], list[Subject]]) -> Subject | None:
    """A person of the record who is likely the one of a row."""
    for way in row.ways():
        for person in there.get(way, ()):
            if alike(lookup(person.given_name), row.given):
                return person
    return None


def latest_request(people: set[int], since: date, seen_by: User) -> dict[int, str]:
    """The last request of each of these people that may still be meant, in words.

    Named only where it is at somebody's sites: that there is one elsewhere has to be said, or a
    person travels twice; which one it is has not.
    """
    rows = Request.objects.filter(subject__in=people, received__gte=since, closed_at__isnull=True)
    seen = set(requests_visible(seen_by).filter(subject__in=people).values_list("pk", flat=True))
    return {
        person: f"request {text}" if pk in seen else "a request at a site that you do not see"
        for person, pk, text in rows.order_by("received", "pk").values_list(
            "subject_id", "pk", "reference"
        )
    }


def double(intake: Intake, number: int, problem: str) -> IntakeFinding:
    """A finding that somebody has to look at."""
    return IntakeFinding(
        intake=intake,
        number=number,
        kind=FindingKind.DOUBLE,
        column="family_name",
        problem=problem[:200],
        remedy="look at both: is it a second request of one person, or the same one again?",
    )
