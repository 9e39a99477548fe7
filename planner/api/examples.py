"""Examples of bodies and answers: one invented value a name, put together as the shapes say.

A shape whose values have to fit each other carries an ``example`` of its own. Nobody and nothing
in an example exists.
"""

from __future__ import annotations

from typing import Any

VALUES: dict[str, Any] = {
    "advice": "7 days of hand care first, at least twice a day.",
    "appointment": "a-1001",
    "area": "east",
    "avoid": "north-2",
    "body": "Dear {name},\n\nwe expect you on {day} at {time}.\n\n{contact}",
    "by": "coordinator",
    "cells": "A-2041",
    "code": "north-1",
    "column": "Mobile",
    "columns": "reference",
    "control_number": "c-1001",
    "control_numbers": "c-1001",
    "closed_why": "",
    "dates": "dmy",
    "day": "2027-03-09",
    "detail": "asked for another day",
    "displaced": "r-1002",
    "done": "r-1001",
    "email": "i.tavoren@example.org",
    "ends": "17:00",
    "error": "",
    "example": "04/03/2027",
    "family_name": "Tavoren",
    "features": "accessible",
    "first_number": "c-1001",
    "given_name": "Ilmi",
    "head": "Reference",
    "heading": "Your appointment: {programme}",
    "holds": "reference",
    "home": "north",
    "html": "<p>Dear Ilmi Tavoren</p>",
    "key": "reference",
    "kind": "slot_taken",
    "language": "en",
    "latitude": 0.5,
    "login": "coordinator",
    "longitude": 0.5,
    "may": "requests.see",
    "meaning": "Sets accepted at once, of all that were answered",
    "means": "2027-03-04",
    "minutes": 20,
    "name": "North",
    "needs": "accessible station",
    "note": "with the maker's target",
    "phone": "+00 555 0142",
    "plan": "plan-17",
    "problem": "is no phone number",
    "profile": "full",
    "programme": "licence",
    "read_as": "UTF-8, separated by semicolons",
    "reason": "platen cracked",
    "reasons": "No cause of retakes is known: 7 days of hand care first.",
    "reference": "r-1001",
    "remedy": "write 6 to 15 digits, best with + and the country code",
    "request": "r-1001",
    "requests": "r-1001",
    "returned_control_number": "",
    "rework": "r-1001-2",
    "said": "",
    "scanner": "sc-north-1",
    "second_number": "c-1002",
    "secret": "shown this once",
    "serial": "n-1001",
    "site": "north",
    "sites": "north",
    "skills": "difficult_capture",
    "stage": "improve",
    "starts": "09:00",
    "station": "north-1",
    "subject": "P-310",
    "takes": "The programme's own reference of the request.",
    "technician": "t-1",
    "text": "Dear Ilmi Tavoren",
    "time": "09:30",
    "times": "2027-03-08 09:00-12:00",
    "timezone": "Europe/Vienna",
    "title": "That time is taken",
    "told": "09:30",
    "told_by": "coordinator",
    "value": "not yet",
    "what": "booked",
    "who": "coordinator",
    "why": "asked for it",
    "without": "r-1002",
    "words": "Tavoren",
}
"""By name of a property; of a list its entries."""

FORMATS = {
    "date": "2027-03-09",
    "date-time": "2027-03-09T08:30:00Z",
    "email": "i.tavoren@example.org",
    "binary": "reference;family name\nA-2041;Tavoren\n",
    "uri": "https://example.org/",
}
COUNT, SHARE = 3, 0.1
NOT_YET = {"asked_at", "asked_by", "closed_at", "ended_at", "next", "revoked_at", "rework_of"}
"""Null in an example: what it tells of has not happened."""


def add_examples(found: dict[str, Any]) -> None:
    """Give every body and answer of an OpenAPI document an example, where it has none yet."""
    shapes = found["components"]["schemas"]
    for each in (each for path in found["paths"].values() for each in path.values()):
        contents = [each.get("requestBody", {})]
        contents += [said for status, said in each["responses"].items() if status < "300"]
        for said in (said for one in contents for said in one.get("content", {}).values()):
            schema = said["schema"]
            if "examples" not in said and (schema.get("properties") or "$ref" in schema):
                said["examples"] = {"invented": {"value": example_of(schema, "", shapes)}}


def example_of(schema: dict[str, Any], name: str, shapes: dict[str, Any]) -> Any:
    """A value of a schema, for the property ``name``."""
    if "$ref" in schema:
        shape = shapes[schema["$ref"].rpartition("/")[2]]
        return example_of(shape, name, shapes)
    if "allOf" in schema or "oneOf" in schema:
        return example_of((schema.get("allOf") or schema["oneOf"])[0], name, shapes)
    if choices := [each for each in schema.get("enum", ()) if each]:
        return choices[0]
    kind = schema.get("type")
    if kind == "object":
        inner = schema.get("properties", {}).items()
        return {key: example_of(value, key, shapes) for key, value in inner}
    if kind == "array":
        return [example_of(schema["items"], name, shapes)]
    return plain_example(schema, name)


def plain_example(schema: dict[str, Any], name: str) -> Any:
    """A text, number or answer of yes or no."""
    kind, value = schema.get("type"), VALUES.get(name)
    if schema.get("nullable") and name in NOT_YET:
        return None
    if kind == "boolean":
        return True
    if kind in {"integer", "number"}:
        own = value if isinstance(value, int | float) else COUNT if kind == "integer" else SHARE
        return min(max(own, schema.get("minimum", own)), schema.get("maximum", own))
    if form := FORMATS.get(schema.get("format", "")):
        return form
    return value if isinstance(value, str) else "a few words"
