"""Taking away by rule what is known of people, in batches: a run that is cut short goes on."""

from __future__ import annotations

from datetime import date

from django.contrib.admin.models import LogEntry
from django.db.models import CharField, Value
from django.db.models.functions import Cast, Concat
from django.utils import timezone

from sites.models import Purge, Subject
from sites.selectors.retention import PERSONAL, by_programme, subjects_due
from sites.selectors.typed import PURGED, TYPED, references_out, subjects_to_rename
from sites.services.write import written


@written
def purge_begin(*, as_of: date) -> Purge:
    """The purge that was cut short, to go on with, or a new one."""
    left = Purge.objects.select_for_update().filter(ended_at__isnull=True).first()
    if left is None:
        return Purge.objects.create(begun_at=timezone.now(), as_of=as_of)
    left.as_of = as_of
    left.save(update_fields=["as_of"])
    return left


@written
def purge_batch(*, purge: Purge, after: int = 0, most: int = 500) -> tuple[int, int | None]:
    """Take away the personal data of at most so many subjects with keys above ``after``.

    With them go the texts that were typed about them, and the programme's references where its
    terms say so. Returns how many people that were, and the key to go on after; None where nobody
    is left. The rows are locked before they are asked again: whoever got a request meanwhile keeps
    theirs.
    """
    rows = subjects_due(today=purge.as_of).filter(pk__gt=after)
    keys = list(rows.values_list("pk", flat=True)[:most])
    if not keys:
        return 0, None
    locked = Subject.objects.select_for_update().filter(pk__in=keys).order_by("pk")
    list(locked.values_list("pk", flat=True))
    due = subjects_due(today=purge.as_of).filter(pk__in=keys)
    sure = list(due.values_list("pk", flat=True))
    Subject.objects.filter(pk__in=sure).update(**PERSONAL)
    texts = sum(each.of(sure).update(**{each.column: each.becomes}) for each in TYPED)
    references = forget_references(sure)
    row = Purge.objects.select_for_update().get(pk=purge.pk)
    for code, count in by_programme(sure).items():
        row.programmes[code] = row.programmes.get(code, 0) + count
    row.subjects += len(sure)
    row.texts += texts
    row.references += references
    row.save(update_fields=["subjects", "texts", "references", "programmes"])
    return len(sure), keys[-1]


def forget_references(subjects: list[int]) -> int:
    """Take the programme's references away where its terms say so; how many that were."""
    gone, _ = references_out().filter(request__subject__in=subjects).delete()
    keys = list(subjects_to_rename(subjects).values_list("pk", flat=True))
    nameless = Concat(Value(PURGED), Cast("pk", CharField()))
    Subject.objects.filter(pk__in=keys).update(reference=nameless)
    # The admin's list of latest changes names rows by what they were called then.
    of_subjects = LogEntry.objects.filter(content_type__app_label="record")
    of_subjects = of_subjects.filter(content_type__model="subject", object_id__in=map(str, keys))
    of_subjects.update(object_repr="")
    return gone + len(keys)


@written
def purge_end(*, purge: Purge) -> Purge:
    """Nothing is left to take away."""
    Purge.objects.filter(pk=purge.pk, ended_at__isnull=True).update(ended_at=timezone.now())
    purge.refresh_from_db()
    return purge
