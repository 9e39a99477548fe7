"""Codes of the open standards that captures are recorded with.

Finger positions and impression types: ANSI/NIST-ITL 1-2011, tables of field 14.013 and 14.003.
Missing fingers: the same, field 14.018. Causes of a retake are ours.
"""

from __future__ import annotations

from django.db import models


class FingerPosition(models.IntegerChoices):
    """ANSI/NIST-ITL friction ridge position codes of fingers."""

    UNKNOWN = 0, "Unknown"
    RIGHT_THUMB = 1, "Right thumb"
    RIGHT_INDEX = 2, "Right index"
    RIGHT_MIDDLE = 3, "Right middle"
    RIGHT_RING = 4, "Right ring"
    RIGHT_LITTLE = 5, "Right little"
    LEFT_THUMB = 6, "Left thumb"
    LEFT_INDEX = 7, "Left index"
    LEFT_MIDDLE = 8, "Left middle"
    LEFT_RING = 9, "Left ring"
    LEFT_LITTLE = 10, "Left little"
    PLAIN_RIGHT_THUMB = 11, "Plain right thumb"
    PLAIN_LEFT_THUMB = 12, "Plain left thumb"
    PLAIN_RIGHT_FOUR = 13, "Plain right four fingers"
    PLAIN_LEFT_FOUR = 14, "Plain left four fingers"
    PLAIN_BOTH_THUMBS = 15, "Plain both thumbs"
    RIGHT_EXTRA = 16, "Right extra digit"
    LEFT_EXTRA = 17, "Left extra digit"


class ImpressionType(models.IntegerChoices):
    """Impression types; others drift by edition, so the edition is kept with each attempt."""

    LIVE_PLAIN = 0, "Live-scan plain"
    LIVE_ROLLED = 1, "Live-scan rolled"
    NONLIVE_PLAIN = 2, "Non-live-scan plain"
    NONLIVE_ROLLED = 3, "Non-live-scan rolled"


class MissingCode(models.TextChoices):
    """Why a finger was not printed: for good, or for now."""

    AMPUTATED = "XX", "Amputated"
    UNPRINTABLE = "UP", "Unable to print"


class Algorithm(models.TextChoices):
    """Quality algorithms. They run in opposite directions and are never mixed or averaged."""

    NFIQ1 = "nfiq1", "NFIQ 1"
    NFIQ2 = "nfiq2", "NFIQ 2"


class Cause(models.TextChoices):
    """Why an attempt was not kept, as the technician saw it; our list."""

    DRY = "dry", "Dry skin"
    MOIST = "moist", "Moist skin"
    WORN = "worn", "Worn ridges"
    PRESSURE = "pressure", "Too much or too little pressure"
    SMEAR = "smear", "Smear"
    ROLL_SHORT = "roll_short", "Roll too short"
    PLACEMENT = "placement", "Placement"
    SEQUENCE = "sequence", "Another finger or hand than asked"
    RESIDUE = "residue", "Residue on the platen"
    DEVICE = "device", "Device fault"


MAX_ATTEMPTS = 3
