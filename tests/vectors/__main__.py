"""Write the files of shared vectors anew: ``python -m tests.vectors [NAME ...]``."""

import sys

from tests.paths import TABLES
from tests.vectors.files import FILES
from tests.vectors.harness import text_of

for name, (about, vectors) in FILES.items():
    if len(sys.argv) < 2 or name in sys.argv[1:]:
        (TABLES / f"{name}.json").write_text(text_of(about, vectors()), "utf-8")
