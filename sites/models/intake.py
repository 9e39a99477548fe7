"""Lists of candidates given as files, until they are taken in, and the names they came by.

The rows are sealed, because names and contact data stand in them, and are deleted once they are
taken in or left; those that waited for a day when anybody next opens the intake, or when
``purge_personal_data --apply`` runs. What stays is who gave a file when,
how many rows it had and what became of them.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.profile import Profile
from sites.models.programme import Programme
from sites.models.request import Request
from sites.models.sealed import SealedField
from sites.models.spans import one_of


class IntakeStep(models.TextChoices):
    """How far a file is."""

    COLUMNS = "columns", "Columns to confirm"
    CHECKING = "checking", "Rows being read"
    CHECKED = "checked", "Waiting for a decision"
    TAKING = "taking", "Being taken in"
    TAKEN = "taken", "Taken in"
    LEFT = "left", "Left, nothing taken in"


class Intake(models.Model):
    """A file with its choices. ``head`` is a JSON list of texts, ``mapping`` each column's key.

    ``whole``: all rows or none; ``alike``: take likely doubles too. ``checked`` counts rows that
    were read since the choices were made last, ``good`` those that can be taken in. ``try_again``
    is when somebody else may go on taking in, should whoever does it have stopped.
    """

    code = models.SlugField(max_length=32, unique=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="intakes")
    given_at = models.DateTimeField()
    file_name = SealedField(blank=True)
    kind = models.CharField(max_length=4)
    read_as = models.CharField(max_length=200)
    delimiter = models.CharField(max_length=1, blank=True)
    head = SealedField()
    mapping = models.JSONField(default=list)
    date_order = models.CharField(max_length=3, blank=True)
    programme = models.ForeignKey(
        Programme, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    profile = models.ForeignKey(Profile, models.SET_NULL, null=True, blank=True, related_name="+")
    received = models.DateField(null=True, blank=True)
    step = models.CharField(max_length=8, choices=IntakeStep, default=IntakeStep.COLUMNS)
    rows = models.PositiveIntegerField()
    checked = models.PositiveIntegerField(default=0)
    good = models.PositiveIntegerField(default=0)
    faulty = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0)
    doubles = models.PositiveIntegerField(default=0)
    taken = models.PositiveIntegerField(default=0)
    whole = models.BooleanField(default=False)
    alike = models.BooleanField(default=False)
    try_again = models.DateTimeField(null=True, blank=True)
    said = models.CharField(max_length=300, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-given_at", "-id"]
        indexes = [models.Index(fields=["given_at"])]
        constraints = [
            one_of("step", IntakeStep, "intake_step_known"),
            models.CheckConstraint(
                condition=Q(rows__gte=1, checked__lte=F("rows"), taken__lte=F("rows")),
                name="intake_counts_fit",
            ),
            models.CheckConstraint(
                condition=Q(step__in=["taken", "left"], ended_at__isnull=False)
                | (~Q(step__in=["taken", "left"]) & Q(ended_at__isnull=True)),
                name="intake_ends_at_its_end",
            ),
        ]

    def __str__(self) -> str:
        return f"Intake {self.code}"


class IntakeBlock(models.Model):
    """Some rows of a file, from row ``first`` on: a sealed JSON list of [number, cells].

    ``keys`` are keyed hashes of what was read from them, for finding doubles; None: not read yet.
    """

    intake = models.ForeignKey(Intake, models.CASCADE, related_name="blocks")
    first = models.PositiveIntegerField()
    rows = models.PositiveIntegerField()
    cells = SealedField()
    keys = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ["intake", "first"]
        constraints = [
            models.UniqueConstraint(fields=["intake", "first"], name="intake_block_once")
        ]

    def __str__(self) -> str:
        return f"{self.intake}, from row {self.first}"


class FindingKind(models.TextChoices):
    """What is said of a row."""

    FAULT = "fault", "Fault"
    KNOWN = "known", "In the record already"
    DOUBLE = "double", "Likely a double"
    NOTE = "note", "Good to know"


class IntakeFinding(models.Model):
    """Something about a row's cell of ``column``; the value itself stays in the sealed row."""

    intake = models.ForeignKey(Intake, models.CASCADE, related_name="findings")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=6, choices=FindingKind)
    column = models.CharField(max_length=16)
    problem = models.CharField(max_length=200)
    remedy = models.CharField(max_length=200)

    class Meta:
        ordering = ["intake", "number", "id"]
        indexes = [models.Index(fields=["intake", "kind", "number"])]
        constraints = [one_of("kind", FindingKind, "intake_finding_kind_known")]

    def __str__(self) -> str:
        return f"{self.intake}, row {self.number}: {self.problem}"


class ExternalReference(models.Model):
    """The name that a programme gave a request; each name once a programme."""

    programme = models.ForeignKey(Programme, models.PROTECT, related_name="external_references")
    text = models.CharField(max_length=64)
    request = models.OneToOneField(Request, models.CASCADE, related_name="external")

    class Meta:
        ordering = ["programme", "text"]
        constraints = [
            models.UniqueConstraint(
                fields=["programme", "text"], name="external_reference_once_a_programme"
            ),
            models.CheckConstraint(condition=~Q(text=""), name="external_reference_says_something"),
        ]

    def __str__(self) -> str:
        return self.text
