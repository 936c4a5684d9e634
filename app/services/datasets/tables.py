"""The codebook: every column, flag and word that leaves the record, with its meaning."""

from app.hydraulics.structure.device import flag_words
from app.language.columns import kind_of, unit_of
from app.language.meanings import (
    FIGURE_NOTES,
    FLAG_MEANINGS,
    FLOW_MEANINGS,
    HOW_MEANINGS,
    QUALITY_MEANINGS,
    STATE_MEANINGS,
)
from app.language.tables import Column, Table
from app.services.datasets.parts import COLUMNS_OF

COLUMNS = (
    Column("kind", "Kind"),
    Column("of", "Where it stands"),
    Column("word", "Column or word"),
    Column("meaning", "Meaning"),
    Column("unit", "Unit (UCUM)"),
    Column("datatype", "Datatype (CSV on the Web)"),
    Column("code", "Code in files of arrays"),
)


def codebook() -> Table:
    """Return the codebook as a table: made of the registries, each time."""
    rows: list[dict[str, object]] = [
        {"kind": "note", "of": "all tables", "word": word, "meaning": said}
        for word, said in FIGURE_NOTES.items()
    ]
    rows += [
        {
            "kind": "column",
            "of": what,
            "word": column.key,
            "meaning": column.title,
            "unit": unit_of(column) or "",
            "datatype": kind_of(column),
        }
        for what, columns in COLUMNS_OF.items()
        for column in columns
    ]
    words = [
        *(("flow", one.word, said, int(one)) for one, said in FLOW_MEANINGS.items()),
        *(("flags", flag_words(one)[0], said, int(one)) for one, said in FLAG_MEANINGS.items()),
        *(("how", one.word, said, int(one)) for one, said in HOW_MEANINGS.items()),
        *(("quality_word", word, said, None) for word, said in QUALITY_MEANINGS.items()),
        *(("state", word, said, None) for word, said in STATE_MEANINGS.items()),
    ]
    rows += [
        {"kind": "word", "of": column, "word": word, "meaning": said, "code": code}
        for column, word, said, code in words
    ]
    return Table("codebook", COLUMNS, rows)
