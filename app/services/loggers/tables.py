"""The lists of logger files as tables, for their .csv and .json."""

from sqlmodel import Session

from app.language.tables import ALL, Column, Table
from app.records.sites import Site
from app.services.loggers import lists as logger_lists
from app.services.loggers import register as loggers
from app.services.loggers import waiting as logger_waiting

LOGGER_COLUMNS = (
    Column("id", "Logger id"),
    Column("name", "Logger"),
    Column("serial", "Serial number"),
    Column("structure_id", "Structure id"),
    Column("structure_name", "At"),
    Column("quantity", "Measures"),
    Column("reads", "Figures stand over"),
    Column("interval_s", "Interval, s"),
    Column("points", "Readings"),
    Column("files", "Files"),
    Column("first_at", "First reading, UTC"),
    Column("last_at", "Last reading, UTC"),
)
IMPORT_COLUMNS = (
    Column("id", "Import id"),
    Column("logger_id", "Logger id"),
    Column("logger_name", "Logger"),
    Column("name", "File"),
    Column("sha256", "SHA-256 of the original"),
    Column("sentence", "Understood as"),
    Column("rows", "Rows"),
    Column("from_at", "From, UTC"),
    Column("to_at", "To, UTC"),
    Column("conflicts", "Readings that differ"),
    Column("problems", "Problems"),
    Column("imported_at", "Taken in, UTC"),
    Column("imported_by", "Taken in by"),
    Column("undone_at", "Taken back, UTC"),
    Column("undone_by", "Taken back by"),
    Column("undo_reason", "Reason"),
)
WAITING_COLUMNS = (
    Column("sha256", "SHA-256 of the original"),
    Column("name", "File"),
    Column("size", "Bytes"),
    Column("received_at", "Arrived, UTC"),
    Column("by", "From"),
    Column("site_id", "Site id"),
    Column("structure_id", "Structure id"),
    Column("entry_id", "Entry of the phone"),
    Column("serial", "Serial number"),
    Column("clock_fast_s", "Logger minus true time, s"),
    Column("note", "Note"),
    Column("state", "State"),
    Column("act", "Last act"),
    Column("act_by", "By"),
    Column("act_at", "At, UTC"),
    Column("reason", "Reason"),
)
CONFLICT_COLUMNS = (
    Column("at", "Time, UTC"),
    Column("quantity", "Of"),
    Column("held_m", "Counts, m"),
    Column("held_file", "From"),
    Column("other_m", "Differs, m"),
    Column("other_file", "From"),
)


def loggers_table(session: Session, site: Site) -> Table:
    """Return the loggers of a site."""
    rows = [vars(line) for line in loggers.loggers(session, site.id or 0)]
    return Table(f"loggers-{site.code}", LOGGER_COLUMNS, rows)


def imports_table(session: Session, site: Site) -> Table:
    """Return the files taken in at a site, those taken back too."""
    rows = [vars(line) for line in logger_lists.imports(session, site.id or 0)]
    return Table(f"logger-files-{site.code}", IMPORT_COLUMNS, rows)


def waiting_table(session: Session, site: Site) -> Table:
    """Return the files that wait at a site, and those that were discarded."""
    found = [
        *logger_waiting.kept_logger_files(session, site.id),
        *logger_waiting.kept_logger_files(session, site.id, discarded=True),
    ]
    rows = [{**vars(line), "state": "discarded" if line.discarded else "waiting"} for line in found]
    return Table(f"logger-files-waiting-{site.code}", WAITING_COLUMNS, rows)


def conflicts_table(
    session: Session, site: Site, logger_id: int, limit: int = ALL, skip: int = 0
) -> Table:
    """Return the readings of a logger on which two files differ, all or a page of them."""
    rows = [vars(x) for x in logger_lists.conflicts(session, logger_id, limit=limit, skip=skip)]
    return Table(f"conflicts-{site.code}-{logger_id}", CONFLICT_COLUMNS, rows)
