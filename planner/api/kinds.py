"""The kinds of problem that an operation can answer with: one table, which is also served."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its HTTP status, its title, and what to do about it."""

    status: int
    title: str
    remedy: str


KINDS = {
    "invalid": Kind(400, "Something sent is not valid", "Correct what `errors` names."),
    "not_json": Kind(400, "The body is not JSON", "Send one JSON object in UTF-8."),
    "not_a_form": Kind(400, "The body is not a form", "Send multipart/form-data, a part a value."),
    "not_signed_in": Kind(401, "Nobody is signed in", "Send a token: Authorization: Bearer …"),
    "not_allowed": Kind(403, "Not for this sign-in", "Ask somebody whose role may do it."),
    "not_found": Kind(404, "There is no such thing", "Check the address and the reference in it."),
    "no_such_method": Kind(405, "Not a method of this address", "Use one that Allow names."),
    "not_acceptable": Kind(406, "No such format", "Accept a type that the document names."),
    "too_large": Kind(413, "The body is too large", "Send less at once."),
    "not_a_json_type": Kind(415, "Not sent as JSON", "Send Content-Type: application/json."),
    "not_a_form_type": Kind(
        415, "Not sent as a form", "Send Content-Type: multipart/form-data with its boundary."
    ),
    "changed": Kind(412, "It has changed since", "Read it again, decide anew, send the new ETag."),
    "no_precondition": Kind(428, "If-Match is missing", "Read the thing, send its ETag back."),
    "too_many": Kind(429, "Too many calls", "Wait for the seconds in Retry-After."),
    "refused": Kind(409, "The record as it stands does not allow it", "Do what `detail` says."),
    "bad_value": Kind(422, "A value that cannot be written", "Correct the value that is named."),
    "does_not_fit": Kind(409, "A rule forbids this place", "Choose another place or time."),
    "likely_double": Kind(409, "Likely a person of the record", "Look at both, then say `own`."),
    "slot_taken": Kind(409, "That time is taken", "Choose another time, station or technician."),
    "already_booked": Kind(409, "It has an appointment", "Move or cancel that one."),
    "step_refused": Kind(409, "No such step from here", "Take one that is possible."),
    "changed_meanwhile": Kind(409, "Somebody else was faster", "Read it again, decide anew."),
    "key_reused": Kind(409, "The idempotency key had another call", "Use a key of its own."),
    "call_underway": Kind(409, "The same call is being worked on", "Send it again later."),
    "not_ready": Kind(409, "It has not come that far", "Read it again later."),
    "busy": Kind(503, "The record is busy", "Send it again in a moment."),
    "impossible": Kind(409, "No plan can serve this", "Free what `detail` names."),
    "fault": Kind(500, "Our fault", "Report it with the number in `instance`."),
}
