"""Our texts, for programmes that have none of their own.

Hand care: moisturise at least twice a day for several days before, nothing on the hands at capture
(a state board's public page; common practice). Never print over fresh cuts, blisters or bandages
(a state manual). The programme's own policy comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

from sites.models import NoticeKind

HANDS = """\
- For several days before, moisturise your hands at least twice a day.
- On the day, come with clean, dry hands and nothing on them: no lotion, no polish residue, no ink.
- If you can, spare your fingertips on the days before: wear gloves for rough or wet work."""
WAIT = """\
Please call us before you come if you have a fresh cut, a blister or a bandage on a finger, or if \
a doctor has asked you to protect your hands. We do not print over wounds: you get another time, \
after healing."""


@dataclass(frozen=True, slots=True)
class Text:
    """A subject line and a body, both with variables."""

    heading: str
    body: str


COME = """\
Where: {site}
{directions}

Allow about {minutes} minutes. The time is on the clock at the site: {zone}.

What to bring
{bring}

Caring for your hands
{hands}

When it has to wait
{wait}

If you cannot come, tell us early, so that somebody else can have the time.
{contact}

{programme}
Your number: {reference}"""

DEFAULTS = {
    NoticeKind.BOOKED: Text(
        "Your appointment: {programme}",
        "Dear {name},\n\nyou have an appointment to have your fingerprints taken:\n\n"
        "When: {day}, {time}\n" + COME,
    ),
    NoticeKind.MOVED: Text(
        "Your appointment has a new time: {programme}",
        "Dear {name},\n\nyour appointment to have your fingerprints taken has changed. "
        "This is the time that counts:\n\nWhen: {day}, {time}\n" + COME,
    ),
    NoticeKind.REMINDER: Text(
        "Your appointment is near: {programme}",
        "Dear {name},\n\nwe expect you soon to have your fingerprints taken:\n\n"
        "When: {day}, {time}\n" + COME,
    ),
    NoticeKind.CANCELLED: Text(
        "Your appointment does not take place: {programme}",
        "Dear {name},\n\nyour appointment on {day} at {time}, {site}, does not take place. "
        "Please do not come at that time.\n\nIf you still need one, we write to you with another "
        "time. You need not do anything now.\n{contact}\n\n{programme}\nYour number: {reference}",
    ),
    NoticeKind.RETURNED: Text(
        "Please come once more: {programme}",
        "Dear {name},\n\nyour fingerprints came back to us because the pictures were not clear "
        "enough. That happens with dry or worn skin, and with how the fingers met the glass. "
        "It says nothing about you, and nothing was decided.\n\nPlease have them taken once more. "
        "We write to you with a time.\n\nCaring for your hands until then\n{hands}\n\n"
        "When it has to wait\n{wait}\n{contact}\n\n{programme}\nYour number: {reference}",
    ),
}
"""By kind."""
