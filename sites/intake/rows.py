"""One row: a candidate, or every fault of its cells and of what they say together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from sites.intake.cells import Cells
from sites.intake.columns import folded
from sites.intake.known import Around, Candidate, Fault, Read, Terms

ACCESS = {"access", "accessible", "accessiblestation", "stepfree"}
LONGER = {"longer", "longersession", "moretime"}


def values_of(cells: Sequence[str], mapping: Sequence[str]) -> dict[str, str]:
    """The cells of a row by the key of their column, without the columns that are not used."""
    return {key: cell for key, cell in zip(mapping, cells, strict=False) if key}


def read_row(values: Mapping[str, str], around: Around) -> Read:
    """A row of texts by column key, read by what is `Around`; all its faults at once."""
    cells = Cells(dict(values), around.order)
    reference = cells.text("reference", 64, needed=True)
    programme = _chosen(cells, "programme", around.programmes, around.programme)
    profile = _chosen(cells, "profile", around.profiles, around.profile, "kind of session")
    given, family = _names(cells)
    received, release, due = (cells.day(name) for name in ("received", "release", "due"))
    received = received or around.received or around.today
    terms = _terms(cells, around, programme, received)
    dates = _dates(cells, around, received, release, due, terms)
    access, longer, features, skills = _needs(cells, around)
    subject, phone, email = cells.text("subject", 64), cells.phone(), cells.email()
    language, priority = cells.language(), cells.number("priority", 100)
    area = cells.one_of("area", around.areas, "home area")
    sites = cells.many_of("sites", around.sites, "site") or around.usual
    times = _times(cells, dates)
    if cells.faults or programme is None or profile is None or terms is None or dates is None:
        return Read(faults=cells.faults)
    return Read(
        Candidate(
            reference=reference,
            programme=programme,
            terms=terms.pk,
            profile=profile,
            received=received,
            release=dates[0],
            due=dates[1],
            expires=dates[2],
            subject=subject,
            given_name=given,
            family_name=family,
            phone=phone,
            email=email,
            language=language,
            priority=priority,
            area=area,
            access=access,
            longer=longer,
            sites=sites,
            features=features,
            skills=skills,
            times=times,
        )
    )


def _chosen(
    cells: Cells, column: str, names: Mapping[str, int | None], all_: int | None, what: str = ""
) -> int | None:
    """What the cell names, else what was chosen for the whole file."""
    what = what or column
    if cells.values.get(column):
        return cells.one_of(column, names, what)
    if all_ is None and not cells.blamed(column):
        cells.fault(column, "is empty", f"write a {what}'s code, or choose one for the whole file")
    return all_


def _names(cells: Cells) -> tuple[str, str]:
    """Given and family name, from two columns or from one with a comma."""
    given, family = cells.name("given_name"), cells.name("family_name")
    both = cells.name("name")
    if both and not (given or family):
        last, comma, first = both.partition(",")
        if not comma:
            cells.fault("name", "has no comma", "write family name, comma, given names")
        given, family = first.strip(), last.strip()
    return given, family


def _terms(cells: Cells, around: Around, programme: int | None, received: date) -> Terms | None:
    """The programme's parameters on the day the request was received."""
    scheme = around.schemes.get(programme) if programme is not None else None
    if scheme is None:
        return None
    found = scheme.on(received)
    if found is None:
        cells.fault(
            "received",
            f"is before {scheme.code} has any parameters",
            "correct the date, or add a version of the programme that starts earlier",
        )
    return found


def _dates(
    cells: Cells,
    around: Around,
    received: date,
    release: date | None,
    due: date | None,
    terms: Terms | None,
) -> tuple[date, date, date] | None:
    """Release, due and expiry dates in order, None where they are not."""
    if terms is None or any(cells.blamed(name) for name in ("received", "release", "due")):
        return None
    if received > around.today:
        cells.fault("received", "is in the future", "write the day on which it was received")
        return None
    first = release or received
    last = due or received + timedelta(days=terms.due_days)
    expires = received + timedelta(days=max(terms.validity_days, terms.due_days))
    if last < first:
        late = "due" if due else "release"
        cells.fault(late, "leaves no day between release and due date", "correct one of the two")
    elif last > expires:
        cells.fault(
            "due",
            f"is after the request expires by its programme ({expires.isoformat()})",
            "correct it, or the date on which the request was received",
        )
    else:
        return first, last, expires
    return None


def _times(
    cells: Cells, dates: tuple[date, date, date] | None
) -> tuple[tuple[date, int, int], ...]:
    """When the person can come, some of it between release and expiry."""
    times = cells.times()
    if times and dates and not any(dates[0] <= day <= dates[2] for day, _, _ in times):
        cells.fault("times", "holds no day from release to expiry", "add a day, or leave it empty")
    return times


def _needs(cells: Cells, around: Around) -> tuple[bool, bool, tuple[int, ...], tuple[int, ...]]:
    """Access, longer session, station features and technician skills."""
    access = longer = False
    features: list[int] = []
    skills: list[int] = []
    for part in cells.parts("needs"):
        word = folded(part)
        if word in ACCESS:
            access = True
        elif word in LONGER:
            longer = True
        elif (feature := around.features.get(word)) is not None:
            features.append(feature)
        elif (skill := around.skills.get(word)) is not None:
            skills.append(skill)
        elif not cells.blamed("needs"):
            cells.fault(
                "needs",
                "names a need that is not set up",
                "write access, longer, or the code of a feature or skill; never a diagnosis",
            )
    return access, longer, tuple(dict.fromkeys(features)), tuple(dict.fromkeys(skills))


def words_of(fault: Fault) -> str:
    """A fault as a sentence without its value."""
    return f"{fault.problem}: {fault.remedy}"
