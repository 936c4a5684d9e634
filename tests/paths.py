"""Where the tree and the tables of check values lie."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TABLES = ROOT / "tests" / "tables"
