"""What programs need to call: tokens that sign them in, and calls that may be sent again."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.sealed import SealedField


class ApiToken(models.Model):
    """Signs a program in as its owner, until it expires or is revoked.

    Only a keyed hash of the secret is kept; ``code`` names the token and opens nothing.
    """

    code = models.SlugField(max_length=24, unique=True)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="api_tokens")
    name = models.CharField(max_length=120, help_text="Which program it is for")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    reads_only = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True, blank=True, help_text="Last used, to the hour")
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["owner", "made_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="api_token_expires_after_it_is_made"
            ),
            models.CheckConstraint(condition=~Q(digest=""), name="api_token_has_a_digest"),
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.name}"


class ApiCall(models.Model):
    """A call sent under an idempotency key; ``answer`` is sealed, and there once it was answered.

    ``key`` and ``body`` are keyed hashes: of the caller's key, and of what was sent under it.
    """

    caller = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="api_calls")
    key = models.CharField(max_length=64, editable=False)
    body = models.CharField(max_length=64, editable=False)
    started_at = models.DateTimeField()
    attempt = models.PositiveIntegerField(default=1)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = SealedField(null=True, blank=True)

    class Meta:
        ordering = ["started_at", "id"]
        indexes = [models.Index(fields=["started_at"])]
        constraints = [
            models.UniqueConstraint(fields=["caller", "key"], name="api_call_key_once"),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, answer__isnull=True)
                | Q(answered_at__isnull=False, answer__isnull=False),
                name="api_call_answered_with_an_answer",
            ),
        ]

    def __str__(self) -> str:
        return f"call of {self.started_at:%Y-%m-%dT%H:%MZ}"
