"""Rows of the record before they are written: tables in the order in which rows need each other."""

from __future__ import annotations

from typing import Any

from django.db import models

from sites.models import (
    Absence,
    Appointment,
    AppointmentEvent,
    Attempt,
    Break,
    CareRule,
    CareWindow,
    Certification,
    Closure,
    Downtime,
    ExceptionRoute,
    Feature,
    HomeArea,
    MissingFinger,
    Notice,
    OpeningHours,
    Override,
    Profile,
    ProfileCapture,
    Programme,
    ProgrammeVersion,
    Request,
    RequestSite,
    RequestTime,
    Reserve,
    Response,
    Scanner,
    ScannerPlacement,
    Session,
    Shift,
    Site,
    Skill,
    Station,
    Subject,
    Submission,
    Supply,
    Technician,
    Threshold,
    User,
)

ORDER: tuple[type[models.Model], ...] = (
    *(Feature, Skill, Site, OpeningHours, Closure, Reserve, Supply, User, User.covers.through),
    *(Station, Station.features.through, Scanner, ScannerPlacement, CareRule, Downtime),
    *(Technician, Technician.skills.through, Certification, Shift, Break, Absence),
    *(Programme, ProgrammeVersion, Threshold, Profile, Profile.skills.through, ProfileCapture),
    *(HomeArea, Subject, Request, Request.features.through, Request.skills.through),
    *(RequestSite, RequestTime, CareWindow, Appointment, AppointmentEvent, Notice),
    *(Session, Attempt, MissingFinger, Override, Submission, Response, ExceptionRoute),
)


class Tables:
    """Rows by model; ids count from 1 in the order of adding."""

    def __init__(self) -> None:
        self.rows: dict[type[models.Model], list[dict[str, Any]]] = {each: [] for each in ORDER}

    def add(self, model: type[models.Model], **values: Any) -> int:
        """Add a row by its fields' column names; the id is returned."""
        rows = self.rows[model]
        key = len(rows) + 1
        values["id"] = key
        rows.append(values)
        return key

    def row(self, model: type[models.Model], key: int) -> dict[str, Any]:
        """The row with an id, to be changed before it is written."""
        return self.rows[model][key - 1]

    def ids(self, model: type[models.Model], field: str) -> dict[Any, int]:
        """The ids of a model's rows by one of their fields."""
        return {row[field]: row["id"] for row in self.rows[model]}

    @property
    def count(self) -> int:
        """How many rows there are."""
        return sum(len(rows) for rows in self.rows.values())
