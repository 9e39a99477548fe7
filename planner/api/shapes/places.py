"""Sites, stations, scanners and technicians as they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from planner.api.shapes.fields import Shape


class Codes(serializers.ListField):
    """Codes of related rows, which were fetched before."""

    child = serializers.CharField()

    def to_representation(self, data: Any) -> list[str]:
        """The codes in order."""
        return sorted(row.code for row in data.all())


class SiteShape(Shape):
    """A place with stations."""

    code = serializers.CharField()
    name = serializers.CharField()
    timezone = serializers.CharField(help_text="IANA name; days and times at it are on this clock")
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)


class StationShape(Shape):
    """A desk at a site."""

    code = serializers.CharField()
    name = serializers.CharField()
    site = serializers.CharField(source="site.code")
    features = Codes()
    in_use = serializers.BooleanField()


class ScannerShape(Shape):
    """A live-scan device, and the station it stands on."""

    code = serializers.CharField()
    serial = serializers.CharField()
    takes_rolled = serializers.BooleanField(help_text="False: flats only")
    certified_on = serializers.DateField(allow_null=True, help_text="Of its type certificate")
    station = serializers.SerializerMethodField()

    def get_station(self, scanner: Any) -> str | None:
        """Where it stands now."""
        now = [each for each in scanner.placements.all() if each.ends_on is None]
        return now[0].station.code if now else None


class CertificateShape(Shape):
    """A technician's certificate."""

    kind = serializers.CharField()
    starts_on = serializers.DateField()
    expires_on = serializers.DateField()


class TechnicianShape(Shape):
    """Who takes prints."""

    code = serializers.CharField()
    name = serializers.CharField()
    home = serializers.CharField(source="home.code", help_text="Code of the home site")
    skills = Codes()
    certifications = CertificateShape(many=True)


class TermsShape(Shape):
    """A programme's parameters; the programme's own policy comes first."""

    starts_on = serializers.DateField()
    due_days = serializers.IntegerField()
    validity_days = serializers.IntegerField()
    attempts_per_capture = serializers.IntegerField()
    override_allowed = serializers.BooleanField()
    override_second_person = serializers.BooleanField()
    rework_days = serializers.IntegerField()
    return_window_days = serializers.IntegerField()
    grain_minutes = serializers.IntegerField(help_text="Told times are multiples of it")
    wait_minutes = serializers.IntegerField(help_text="The wait that the promise is about")
    wait_risk = serializers.FloatField(help_text="Chance in [0, 1] that a wait is longer")
    overtime_minutes = serializers.IntegerField()
    overtime_risk = serializers.FloatField()


class ProgrammeShape(Shape):
    """The scheme that a request belongs to, with its parameters by date."""

    code = serializers.CharField()
    name = serializers.CharField()
    terms = TermsShape(many=True, source="versions")


class CaptureShape(Shape):
    """Captures of one kind in a session."""

    kind = serializers.CharField()
    count = serializers.IntegerField()
    seconds = serializers.FloatField()
    retake = serializers.FloatField(help_text="Chance in [0, 1) that one is taken again")


class ProfileShape(Shape):
    """A kind of session."""

    code = serializers.CharField()
    name = serializers.CharField()
    setup_mean = serializers.FloatField(help_text="Minutes")
    wrapup_minutes = serializers.FloatField()
    max_attempts = serializers.IntegerField()
    no_show = serializers.FloatField(help_text="Chance in [0, 1] that nobody comes")
    skills = Codes()
    captures = CaptureShape(many=True)
