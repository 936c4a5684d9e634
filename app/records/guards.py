"""Triggers that keep observations as they were seen, on SQLite and PostgreSQL alike."""

from collections.abc import Iterator


def append_only(dialect: str, table: str) -> Iterator[str]:
    """Yield the statements that make a table refuse UPDATE and DELETE."""
    message = f"{table} is append-only: add a row that corrects it"
    if dialect == "sqlite":
        for verb in ("update", "delete"):
            yield (
                f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
            )
        return
    yield (
        f"CREATE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{message}'; END $$"
    )
    yield (
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {table}_append_only()"
    )


def drop_append_only(dialect: str, table: str) -> Iterator[str]:
    """Yield the statements that lift it again, for a downgrade."""
    if dialect == "sqlite":
        yield f"DROP TRIGGER {table}_no_update"
        yield f"DROP TRIGGER {table}_no_delete"
        return
    yield f"DROP TRIGGER {table}_append_only ON {table}"
    yield f"DROP FUNCTION {table}_append_only()"
