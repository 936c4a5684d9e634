"""The description that goes with a CSV: types, units, null marks and what the file is.

W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015 (CSV on the Web); units
as UCUM codes by the property of the QUDT vocabulary, because the Recommendation has none.
"""

from collections.abc import Iterable
from typing import Any

from app.language.columns import MADE_BY, kind_of, unit_of
from app.language.tables import Column

MEDIA_TYPE = "application/csvm+json"
ENDING = "-metadata.json"
"""What comes behind the address of a CSV (Model for Tabular Data, 5.3: the default location)."""

UCUM_CODE = "http://qudt.org/schema/qudt/ucumCode"
BETWEEN = "; "
"""What stands between the parts of one cell that holds several."""

DIALECT = {"encoding": "utf-8", "delimiter": ",", "quoteChar": '"', "doubleQuote": True,
           "header": True, "headerRowCount": 1, "lineTerminators": ["\r\n"]}  # fmt: skip
NOTES = (
    "Lengths, volumes and discharges are SI; every title names its unit. An empty cell is a value "
    "that is not known; no flow is 0. Instants are ISO 8601, those named UTC end in Z. "
    "Uncertainties are expanded, k=2 (about 95 %), unless the title says otherwise. A text that a "
    "spreadsheet could run as a formula has an apostrophe in front."
)


def described(name: str, address: str, columns: Iterable[Column]) -> dict[str, Any]:
    """Return the metadata document of one CSV.

    Parameters
    ----------
    name
        Name of the list, without ending.
    address
        Address of the CSV, relative to this document.
    columns
        Its columns in order.
    """
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "@type": "Table",
        "url": address,
        "dc:title": name,
        "dc:creator": MADE_BY,
        "dc:description": NOTES,
        "dialect": DIALECT,
        "tableSchema": {"columns": [_column(column) for column in columns]},
    }


def _column(column: Column) -> dict[str, Any]:
    kind = kind_of(column)
    said: dict[str, Any] = {
        "name": column.key,
        "titles": [column.key],
        "dc:description": column.title,
        "datatype": "string" if kind == "list" else kind,
        "null": [""],
    }
    if kind == "list":
        said["separator"] = BETWEEN
    if unit := unit_of(column):
        said[UCUM_CODE] = unit
    return said
