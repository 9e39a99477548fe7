"""Occupancy on SQLite: a trigger looks at the one neighbour that a new interval could touch.

Intervals of one resource never overlap, so the last one that starts before the new one ends is the
only one that can reach into it: one step in an index, however long the history is.
"""

from __future__ import annotations

from sites.occupancy.sources import KIND_WORDS, SOURCES, SQLITE, Source, due, view

SAME = "v.kind = o.kind AND v.resource = o.resource AND v.starts = o.starts AND v.ends = o.ends"
WORDS = " ".join(
    f"WHEN {kind.value} THEN RAISE(ABORT, 'occupied: the {word.replace(chr(39), chr(39) * 2)} "
    "is taken at that time')"
    for kind, word in KIND_WORDS.items()
)


def sync(source: Source, row: str) -> str:
    """Statements that make the occupancy of one row what it must be."""
    return (
        f"DELETE FROM record_occupancy WHERE source = {source.number} "
        f"AND source_id = {row}.id AND NOT EXISTS (SELECT 1 FROM {view(source)} v "
        f"WHERE v.source_id = {row}.id AND {SAME.replace('o.', 'record_occupancy.')}); "
        "INSERT INTO record_occupancy (source, source_id, kind, resource, starts, ends) "
        f"SELECT v.source, v.source_id, v.kind, v.resource, v.starts, v.ends FROM {view(source)} v "
        f"WHERE v.source_id = {row}.id AND NOT EXISTS (SELECT 1 FROM record_occupancy o "
        f"WHERE o.source = {source.number} AND o.source_id = {row}.id AND {SAME}) "
        "ORDER BY v.kind, v.resource;"
    )


def source_triggers(source: Source) -> list[tuple[str, str]]:
    """Name and text of the triggers of one table."""
    agrees = ""
    if source.agrees:
        condition, words = source.agrees
        agrees = (
            f"SELECT RAISE(ABORT, 'disagrees: {words}') FROM {source.table} t "
            f"WHERE t.id = NEW.id AND NOT ({condition}); "
        )
    made = []
    for event in ("INSERT", "UPDATE"):
        name = f"record_{source.name}_{event.lower()}"
        moved = (
            f"DELETE FROM record_occupancy WHERE source = {source.number} "
            "AND source_id = OLD.id AND OLD.id <> NEW.id; "
            if event == "UPDATE"
            else ""
        )
        made.append(
            (
                name,
                f"CREATE TRIGGER {name} AFTER {event} ON {source.table} BEGIN "
                f"{agrees}{moved}{sync(source, 'NEW')} END",
            )
        )
    name = f"record_{source.name}_delete"
    made.append(
        (
            name,
            f"CREATE TRIGGER {name} AFTER DELETE ON {source.table} BEGIN DELETE FROM "
            f"record_occupancy WHERE source = {source.number} AND source_id = OLD.id; END",
        )
    )
    return made


def guards() -> list[tuple[str, str]]:
    """Name and text of the triggers of the occupancy table: no overlap, and no row of its own."""
    still = " OR ".join(
        f"(OLD.source = {source.number} AND EXISTS (SELECT 1 FROM {view(source)} v WHERE "
        "v.source_id = OLD.source_id AND v.kind = OLD.kind AND v.resource = OLD.resource "
        "AND v.starts = OLD.starts AND v.ends = OLD.ends))"
        for source in SOURCES
    )
    owed = still.replace("OLD.", "NEW.")
    return [
        (
            "record_occupancy_overlap",
            "CREATE TRIGGER record_occupancy_overlap BEFORE INSERT ON record_occupancy WHEN ("
            "SELECT o.ends FROM record_occupancy o WHERE o.kind = NEW.kind "
            "AND o.resource = NEW.resource AND o.starts < NEW.ends "
            f"ORDER BY o.starts DESC LIMIT 1) > NEW.starts BEGIN SELECT CASE NEW.kind {WORDS} "
            "END; END",
        ),
        (
            "record_occupancy_owed",
            "CREATE TRIGGER record_occupancy_owed BEFORE INSERT ON record_occupancy "
            f"WHEN NOT ({owed}) "
            "BEGIN SELECT RAISE(ABORT, 'occupancy follows its rows and is not written'); END",
        ),
        (
            "record_occupancy_kept",
            f"CREATE TRIGGER record_occupancy_kept BEFORE DELETE ON record_occupancy WHEN {still} "
            "BEGIN SELECT RAISE(ABORT, 'occupancy follows its rows and is not deleted'); END",
        ),
        (
            "record_occupancy_fixed",
            "CREATE TRIGGER record_occupancy_fixed BEFORE UPDATE ON record_occupancy "
            "BEGIN SELECT RAISE(ABORT, 'occupancy follows its rows and is not changed'); END",
        ),
    ]


def triggers() -> dict[str, str]:
    """Every trigger by name."""
    made = dict(guards())
    for source in SOURCES:
        made.update(source_triggers(source))
    return made


def views() -> list[str]:
    """Statements that make the views of what is due."""
    return [f"CREATE VIEW {view(source)} AS {due(source, SQLITE)}" for source in SOURCES]


def install_first() -> list[str]:
    """Statements to run before the occupancy is made whole: the triggers that refuse overlaps."""
    return [text for _, text in guards()]


def install_last() -> list[str]:
    """Statements to run after it."""
    return [text for source in SOURCES for _, text in source_triggers(source)]


def remove() -> list[str]:
    """Statements that take them away, wherever they are."""
    return [
        *(f"DROP TRIGGER IF EXISTS {name}" for name in triggers()),
        *(f"DROP VIEW IF EXISTS {view(source)}" for source in SOURCES),
    ]


PRESENT = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
