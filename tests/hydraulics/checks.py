"""Reads the check tables of tests/tables: one published or derived figure a row."""

import csv
import json
from dataclasses import dataclass
from typing import Any

from tests.paths import TABLES


@dataclass(frozen=True)
class Check:
    """One figure, with where it comes from and how it got here."""

    device: str
    inputs: dict[str, Any]
    quantity: str
    expected: float
    unit: str
    tolerance: float
    source: str
    provenance: str

    def __str__(self) -> str:
        given = " ".join(f"{k}={v}" for k, v in self.inputs.items())
        return f"{self.device} {self.quantity} {given} [{self.provenance}: {self.source[:60]}]"


def checks(*names: str) -> list[Check]:
    """Return the rows of the named tables."""
    rows = []
    for name in names:
        with (TABLES / f"{name}.csv").open(newline="") as file:
            for row in csv.DictReader(file):
                rows.append(
                    Check(
                        row["device"],
                        json.loads(row["inputs"]),
                        row["quantity"],
                        float(row["expected"]),
                        row["unit"],
                        float(row["tolerance"]),
                        row["source"],
                        row["provenance"],
                    )
                )
    return rows
