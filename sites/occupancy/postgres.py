"""Occupancy on PostgreSQL: an exclusion constraint over ranges of minutes, filled by triggers."""

from __future__ import annotations

from sites.occupancy.sources import POSTGRES, SOURCES, Source, due, view

COLUMNS = "source, source_id, kind, resource, starts, ends"
VIOLATION = "USING ERRCODE = 'integrity_constraint_violation'"


def function(source: Source) -> str:
    """The function that keeps the occupancy of one table's rows.

    It works from the old and the new row alone: a look into the table would be planned once, while
    the table is still small, and stay with that plan.
    """
    old, new = (due(source, POSTGRES, f"(SELECT {row}.*)") for row in ("OLD", "NEW"))
    agrees = ""
    if source.agrees:
        condition, words = source.agrees
        agrees = (
            "IF TG_OP <> 'DELETE' AND EXISTS (SELECT 1 FROM (SELECT NEW.*) t "
            f"WHERE NOT ({condition})) THEN RAISE EXCEPTION 'disagrees: {words}' {VIOLATION}; "
            "END IF; "
        )
    return (
        f"CREATE OR REPLACE FUNCTION record_{source.name}_occupies() RETURNS trigger "
        f"LANGUAGE plpgsql AS $$ BEGIN IF TG_OP = 'TRUNCATE' THEN "
        f"DELETE FROM record_occupancy WHERE source = {source.number}; RETURN NULL; END IF; "
        f"{agrees}"
        "IF TG_OP = 'DELETE' THEN DELETE FROM record_occupancy "
        f"WHERE source = {source.number} AND source_id = OLD.id; "
        f"ELSIF TG_OP = 'INSERT' THEN INSERT INTO record_occupancy ({COLUMNS}) "
        f"SELECT {COLUMNS} FROM ({new}) AS n ORDER BY kind, resource; "
        f"ELSE DELETE FROM record_occupancy o USING (({old}) EXCEPT ({new})) AS gone "
        f"WHERE o.source = {source.number} AND o.source_id = OLD.id AND o.kind = gone.kind; "
        f"INSERT INTO record_occupancy ({COLUMNS}) SELECT {COLUMNS} "
        f"FROM (({new}) EXCEPT ({old})) AS come ORDER BY kind, resource; END IF; "
        "RETURN NULL; END $$"
    )


GUARD = (
    "CREATE OR REPLACE FUNCTION record_occupancy_guard() RETURNS trigger LANGUAGE plpgsql AS $$ "
    "BEGIN RAISE EXCEPTION 'occupancy follows its rows and is not %', "
    "CASE TG_OP WHEN 'INSERT' THEN 'written' WHEN 'UPDATE' THEN 'changed' ELSE 'deleted' END "
    f"{VIOLATION}; END $$"
)


def triggers() -> dict[str, str]:
    """Every trigger by name."""
    made = {
        "record_occupancy_guard": "CREATE TRIGGER record_occupancy_guard BEFORE INSERT OR UPDATE "
        "OR DELETE ON record_occupancy FOR EACH ROW WHEN (pg_trigger_depth() = 0) "
        "EXECUTE FUNCTION record_occupancy_guard()"
    }
    for source in SOURCES:
        name = f"record_{source.name}_occupies"
        made[name] = (
            f"CREATE TRIGGER {name} AFTER INSERT OR UPDATE OR DELETE ON {source.table} "
            f"FOR EACH ROW EXECUTE FUNCTION {name}()"
        )
        made[f"{name}_all"] = (
            f"CREATE TRIGGER {name}_all AFTER TRUNCATE ON {source.table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
        )
    return made


def views() -> list[str]:
    """Statements that make the views of what is due."""
    return [f"CREATE VIEW {view(source)} AS {due(source, POSTGRES)}" for source in SOURCES]


def install_first() -> list[str]:
    """Statements to run before the occupancy is made whole: none, a constraint refuses overlaps."""
    return []


def install_last() -> list[str]:
    """Statements to run after it: the guard would refuse what nobody's trigger writes."""
    return [*(function(source) for source in SOURCES), GUARD, *triggers().values()]


def remove() -> list[str]:
    """Statements that take them away, wherever they are."""
    return [
        "DROP FUNCTION IF EXISTS record_occupancy_guard() CASCADE",
        *(f"DROP FUNCTION IF EXISTS record_{source.name}_occupies() CASCADE" for source in SOURCES),
        *(f"DROP VIEW IF EXISTS {view(source)}" for source in SOURCES),
    ]


PRESENT = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
