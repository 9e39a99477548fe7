"""Which of a programme's texts a subject gets."""

from __future__ import annotations

from sites.models import NoticeKind, NoticeText, Programme


def text_for(*, programme: Programme, kind: NoticeKind, language: str) -> NoticeText | None:
    """The programme's own text in the language, its main language, or for all; None: none of these.

    Languages are BCP 47 tags, compared without case: ``pt-BR`` is answered by ``pt-br``, then
    ``pt``, then the text for every language.
    """
    rows = {
        row.language.lower(): row
        for row in NoticeText.objects.filter(programme=programme, kind=kind)
    }
    tag = language.lower().replace("_", "-")
    for wanted in (tag, tag.partition("-")[0], ""):
        if wanted in rows:
            return rows[wanted]
    return None
