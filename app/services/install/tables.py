"""The as-built and the commissioning sheet as lists."""

from app.language.tables import Column, Table
from app.services.install.as_built import AsBuilt
from app.services.install.parts import Sheet

AS_BUILT_COLUMNS = (
    Column("key", "Letter"),
    Column("label", "Dimension"),
    Column("named_m", "Named, m"),
    Column("measured_m", "As built, m"),
    Column("repeats_m", "Repeats, m"),
    Column("difference_m", "Difference, m"),
    Column("tolerance_m", "Tolerance, m"),
    Column("word", "Inside or outside"),
    Column("tolerance_source", "Tolerance from"),
    Column("tolerance_provenance", "Provenance of the tolerance"),
    Column("named_source", "Named value from"),
    Column("rated_as", "Enters the rating as"),
    Column("at", "Measured, UTC"),
    Column("by", "Measured by"),
    Column("instrument", "With"),
    Column("note", "Note"),
)


def as_built_table(sheet: AsBuilt) -> Table:
    rows = [
        {
            "key": line.part.key,
            "label": line.part.label,
            "named_m": line.check.named_m,
            "measured_m": line.measured.mean_m if line.measured else None,
            "repeats_m": list(line.measured.values_m) if line.measured else None,
            "difference_m": line.check.difference_m if line.measured else None,
            "tolerance_m": line.check.tolerance_m,
            "word": line.check.word,
            "tolerance_source": line.check.source,
            "tolerance_provenance": line.check.provenance,
            "named_source": line.part.source.text if line.part.source else sheet.named_from,
            "rated_as": line.part.rated_as,
            "at": line.measured.entry.observed_at if line.measured else None,
            "by": line.measured.by if line.measured else None,
            "instrument": line.measured.entry.body.get("instrument") if line.measured else None,
            "note": line.measured.note if line.measured else None,
        }
        for line in sheet.lines
    ]
    return Table(f"as-built-{sheet.site.code}-{sheet.structure.id}", AS_BUILT_COLUMNS, rows)


SHEET_COLUMNS = (
    Column("part", "Part"),
    Column("name", "What"),
    Column("value", "Found"),
    Column("state", "State"),
)


def sheet_table(sheet: Sheet) -> Table:
    rows = [
        {"part": part.title, "name": name, "value": value, "state": "found"}
        for part in sheet.parts
        for name, value in part.rows
    ]
    rows += [
        {"part": "Outside tolerance", "name": "", "value": w, "state": "outside"}
        for w in sheet.outside
    ]
    rows += [
        {"part": "Not known", "name": "", "value": w, "state": "not known"} for w in sheet.unknown
    ]
    return Table(f"commissioning-{sheet.site.code}-{sheet.structure.id}", SHEET_COLUMNS, rows)
