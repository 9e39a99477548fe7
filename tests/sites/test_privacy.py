"""What must never be kept is not kept, and what is kept of people is sealed."""

from __future__ import annotations

import re

import pytest
from django.apps import apps
from django.core.exceptions import FieldError, ImproperlyConfigured
from django.db import connection, models
from pytest_django import Settings

from sites.crypto import lookup, opened, sealed
from sites.models import Subject
from sites.selectors.subjects import subject_find

# NIST SP 800-122: hold the least personal data. No identifier, birth data, image or template, ever.
NEVER = re.compile(
    r"birth|born|\bdob\b|\bage\b|passport|licen[cs]e|national|social|\bssn\b|citizen|\bidentifier|"
    r"document|image|picture|photo|scan_data|template|minutia|fingerprint|biometric|"
    r"gender|\bsex\b|\brace\b|ethnic|religion|diagnos|medical|disab|illness|\bskin\b|address|postcode|"
    r"\bzip\b"
)
BINARY = (models.BinaryField, models.FileField, models.ImageField, models.FilePathField)
MODELS = list(apps.get_app_config("record").get_models())
KEPT_FILES = {"PlanResult.network", "PlanResult.plan", "RunPart.network", "RunPart.plan"}
"""Bytes that are known: the planner's own two files, with references of requests and no names."""


def test_no_field_for_an_identifier_birth_data_an_image_or_a_template_exists() -> None:
    assert len(MODELS) > 30
    found = []
    for model in MODELS:
        for field in model._meta.get_fields():
            words = field.name.replace("_", " ")
            if isinstance(field, BINARY) or NEVER.search(words) or NEVER.search(field.name):
                found.append(f"{model.__name__}.{field.name}")
    assert set(found) == KEPT_FILES


def test_the_words_that_must_not_occur_are_found_when_they_do() -> None:
    for name in ("date_of_birth", "passport_number", "left_image", "template", "national_id"):
        assert NEVER.search(name) or NEVER.search(name.replace("_", " "))


def test_a_subject_has_these_fields_and_no_other() -> None:
    """A new field on a person is a decision: it is written here too, or it is not made."""
    assert {field.name for field in Subject._meta.concrete_fields} == {
        "id",
        "reference",
        "given_name",
        "family_name",
        "family_name_key",
        "phone",
        "phone_key",
        "email",
        "email_key",
        "language",
        "needs_access",
        "needs_longer",
        "home_area",
        "earlier_no_shows",
    }


@pytest.mark.django_db
def test_names_and_contact_are_not_in_the_database_in_clear() -> None:
    values = {"family_name": "Tavoren", "phone": "+00 123 456", "email": "t@example.invalid"}
    subject = Subject.objects.create(reference="s-1", given_name="Ilmi", **values)
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM record_subject")
        row = " ".join(map(str, cursor.fetchall()))
    for text in ("Ilmi", "Tavoren", "tavoren", "123", "example"):
        assert text not in row
    subject.refresh_from_db()
    assert (subject.given_name, subject.family_name) == ("Ilmi", "Tavoren")


@pytest.mark.django_db
@pytest.mark.parametrize("words", ["tavóren", " TAVOREN ", "+00123456", "T@Example.invalid", "s-1"])
def test_a_person_is_found_by_what_they_say(words: str) -> None:
    Subject.objects.create(
        reference="s-1", family_name="Tavoren", phone="+00 123 456", email="t@example.invalid"
    )
    Subject.objects.create(reference="s-2", family_name="Tavorin")
    assert [
        subject.reference for subject in subject_find(words=words, subjects=Subject.objects.all())
    ] == ["s-1"]
    assert not subject_find(words="  ", subjects=Subject.objects.all()).exists()


@pytest.mark.django_db
def test_sealed_columns_cannot_be_searched() -> None:
    with pytest.raises(FieldError, match="Unsupported lookup"):
        list(Subject.objects.filter(phone="1"))


def test_keys_rotate(settings: Settings) -> None:
    settings.CONTACT_KEYS = ["old"]
    token = sealed("text")
    settings.CONTACT_KEYS = ["new", "old"]
    assert opened(token) == "text"
    settings.CONTACT_KEYS = ["new"]
    with pytest.raises(ImproperlyConfigured, match="PLATEN_CONTACT_KEYS"):
        opened(token)


def test_without_keys_nothing_is_sealed_or_looked_for(settings: Settings) -> None:
    settings.CONTACT_KEYS, settings.LOOKUP_KEY = [], ""
    with pytest.raises(ImproperlyConfigured, match="PLATEN_CONTACT_KEYS"):
        sealed("text")
    with pytest.raises(ImproperlyConfigured, match="PLATEN_LOOKUP_KEY"):
        lookup("text")
    assert (sealed(""), lookup("")) == ("", "")


def test_a_hash_depends_on_its_key(settings: Settings) -> None:
    first = lookup("text")
    settings.LOOKUP_KEY = "another"
    assert lookup("text") != first
