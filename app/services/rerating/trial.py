"""Make the long record again on copies that are thrown away, so that a look shows what an act does.

The derived tables are copied, for some structures only, into temporary tables of the same names.
Those come first when a name is looked up, on both engines, so the very code of the act runs on
them. The stored rows are not touched and not locked: on SQLite no phone waits for a look.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import sqlalchemy as sa
from sqlmodel import Session

from app.records.sensors import DailyFlow, FoundFault, SeriesBlock

DERIVED = (SeriesBlock, DailyFlow, FoundFault)


@contextmanager
def on_copies(session: Session, structure_ids: Sequence[int]) -> Iterator[None]:
    """Let derived rows of some structures be written and read without keeping any of it.

    Inside, the derived tables hold nothing of other structures.
    """
    outer = session.begin_nested()
    try:
        connection = session.connection()
        stored = "main"
        if connection.dialect.name == "postgresql":
            stored = str(connection.execute(sa.select(sa.func.current_schema())).scalar_one())
        quote = connection.dialect.identifier_preparer.quote
        for model in DERIVED:
            name = str(model.__tablename__)
            source = sa.table(name, sa.column("structure_id"), schema=stored)
            rows = sa.select(sa.text("*")).select_from(source)
            rows = rows.where(source.c.structure_id.in_(list(structure_ids)))
            text = rows.compile(connection, compile_kwargs={"literal_binds": True})
            connection.exec_driver_sql(f"CREATE TEMPORARY TABLE {quote(name)} AS {text}")
        if connection.dialect.name == "postgresql":
            # a path of its own: statements prepared before are looked up again
            connection.exec_driver_sql(f"SET LOCAL search_path TO pg_temp, {quote(stored)}")
        yield
    finally:
        outer.rollback()
