"""The database refuses a double booking, however it is written."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction

from sites.clock import visit_span
from sites.errors import AlreadyBooked, SlotTaken
from sites.models import (
    Absence,
    Appointment,
    Break,
    CareWindow,
    Downtime,
    Notice,
    Occupancy,
    ScannerPlacement,
    Shift,
)
from sites.occupancy.keep import triggers_missing
from sites.services.appointments import appointment_step
from tests.sites.build import DAY, ZONE, World


def raw_insert(row: models.Model) -> None:
    """Write a row as a person at a database prompt would: plain SQL, no Django in between."""
    names, values = [], []
    for field in row._meta.concrete_fields:
        if not field.primary_key:
            names.append(connection.ops.quote_name(str(field.column)))
            value = field.get_db_prep_save(getattr(row, field.attname), connection)
            values.append(value)
    marks = ", ".join(["%s"] * len(names))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {row._meta.db_table} ({', '.join(names)}) VALUES ({marks})",  # noqa: S608 - own names
            values,
        )


def copy(appointment: Appointment, here: World, name: str, **values: Any) -> Appointment:
    """An appointment of another request at the same place and time, but for ``values``."""
    request = here.request(name)
    fields = {
        field.attname: getattr(appointment, field.attname)
        for field in Appointment._meta.concrete_fields
        if not field.primary_key
    }
    fields |= {"code": name, "request_id": request.pk, "subject_id": request.subject_id}
    return Appointment(**{**fields, **values})


def test_raw_sql_cannot_book_a_station_twice(here: World) -> None:
    first = here.book(here.request("r-1"))
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(copy(first, here, "r-2", technician_id=here.technicians[1].pk))
    assert Appointment.objects.count() == 1


def test_raw_sql_cannot_book_a_technician_twice(here: World) -> None:
    first = here.book(here.request("r-1"))
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(copy(first, here, "r-2", station_id=here.stations[1].pk))
    assert Appointment.objects.count() == 1


def test_raw_sql_cannot_book_a_subject_in_two_places(here: World) -> None:
    one = here.request("r-1")
    first = here.book(one)
    other = here.request("r-2", subject=one.subject)
    row = copy(
        first,
        here,
        "r-3",
        request_id=other.pk,
        subject_id=one.subject_id,
        station_id=here.stations[1].pk,
        technician_id=here.technicians[1].pk,
    )
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(row)


def test_an_appointment_cannot_name_another_subject_than_its_request(here: World) -> None:
    first = here.book(here.request("r-1"))
    stranger = here.request("r-2").subject_id
    with pytest.raises(IntegrityError, match="disagrees"), transaction.atomic():
        Appointment.objects.filter(pk=first.pk).update(subject_id=stranger)


def test_one_minute_of_overlap_is_refused_and_touching_is_not(here: World) -> None:
    here.book(here.request("r-1"), 600)
    for name, minute in (("r-2", 619), ("r-3", 581)):
        with pytest.raises(SlotTaken):
            here.book(here.request(name), minute)
    here.book(here.request("r-4"), 620)
    here.book(here.request("r-5"), 580)
    assert Appointment.objects.count() == 3


def test_raw_sql_cannot_move_a_booking_onto_another(here: World) -> None:
    here.book(here.request("r-1"), 600)
    second = here.book(here.request("r-2"), 660)
    span = visit_span(ZONE, DAY, 610, 20)
    with pytest.raises(IntegrityError, match="occup"), transaction.atomic():
        Appointment.objects.filter(pk=second.pk).update(told_minute=610, **span)
    second.refresh_from_db()
    assert second.minute == 660


def test_raw_sql_cannot_revive_a_cancelled_booking_whose_place_is_taken(here: World) -> None:
    first = here.book(here.request("r-1"))
    appointment_step(appointment=first, action="cancel", by=here.desk)
    here.book(here.request("r-2"))
    with pytest.raises(IntegrityError, match="occup"), transaction.atomic():
        Appointment.objects.filter(pk=first.pk).update(step="booked")


OTHERS: dict[str, Callable[[World, dict[str, Any]], models.Model]] = {
    "care on the station": lambda here, span: CareWindow(
        code="c", station=here.stations[0], earliest=DAY, latest=DAY, **span
    ),
    "care with the technician": lambda here, span: CareWindow(
        code="c",
        station=here.stations[1],
        technician=here.technicians[0],
        earliest=DAY,
        latest=DAY,
        **span,
    ),
    "a break": lambda here, span: Break(
        shift=Shift.objects.get(technician=here.technicians[0]),
        technician=here.technicians[0],
        **span,
    ),
    "an absence": lambda here, span: Absence(technician=here.technicians[0], **span),
    "a downtime": lambda here, span: Downtime(station=here.stations[0], reason="x", **span),
}


@pytest.mark.parametrize("what", OTHERS)
def test_other_things_occupy_too(here: World, what: str) -> None:
    here.book(here.request("r-1"), 600)
    clash = OTHERS[what](here, dict(visit_span(ZONE, DAY, 610, 30)))
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(clash)
    raw_insert(OTHERS[what](here, dict(visit_span(ZONE, DAY, 620, 30))))
    with pytest.raises(SlotTaken):
        here.book(here.request("r-2"), 640, **other_half(what, here))


def other_half(what: str, here: World) -> dict[str, Any]:
    """The place that a booking must not need, so that only the thing tested is in its way."""
    if "station" in what or "downtime" in what:
        return {"technician": here.technicians[1]}
    return {"station": here.stations[1]} if "care" not in what else {}


def test_shifts_of_a_technician_never_overlap(here: World) -> None:
    shift = Shift.objects.filter(technician=here.technicians[0]).get()
    shift.pk, shift.minute = None, shift.minute + 60
    shift.starts_at += timedelta(hours=1)
    shift.ends_at += timedelta(hours=1)
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(shift)


def test_a_scanner_stands_on_one_station_at_a_time(here: World) -> None:
    placement = ScannerPlacement.objects.filter(station=here.stations[0]).get()
    past = ScannerPlacement(
        scanner=placement.scanner,
        station=here.stations[1],
        starts_on=DAY + timedelta(days=3),
        ends_on=DAY + timedelta(days=9),
    )
    with pytest.raises(IntegrityError, match="occup"):
        raw_insert(past)


def test_the_occupancy_itself_cannot_be_written_changed_or_deleted(here: World) -> None:
    here.book(here.request("r-1"))
    taken = Occupancy.objects.first()
    assert taken is not None
    rows = Occupancy.objects.filter(pk=taken.pk)
    with pytest.raises(IntegrityError, match="not deleted"), transaction.atomic():
        rows.delete()
    with pytest.raises(IntegrityError, match="not changed"), transaction.atomic():
        rows.update(starts=0)
    with pytest.raises(IntegrityError, match="not written"), transaction.atomic():
        Occupancy.objects.create(source=1, source_id=999, kind=1, resource=1, starts=0, ends=9)


def test_a_place_is_free_again_after_a_cancellation_a_no_show_or_a_deletion(here: World) -> None:
    for name, action in (("r-1", "cancel"), ("r-2", "no_show"), ("r-3", "displace")):
        booked = here.book(here.request(name))
        appointment_step(appointment=booked, action=action, by=here.desk)
    last = here.book(here.request("r-4"))
    last.events.all().delete()
    Notice.objects.filter(appointment=last).delete()
    last.delete()
    here.book(here.request("r-5"))


def test_a_request_has_one_appointment_that_is_not_over(here: World) -> None:
    request = here.request("r-1")
    here.book(request)
    with pytest.raises(AlreadyBooked):
        here.book(request, 700)


def test_every_trigger_is_in_place(db: None) -> None:
    assert triggers_missing(connection) == []
