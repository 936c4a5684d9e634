"""How long a person waits for the command line, against a bare import of numpy in a new process."""

import subprocess
import sys
import time

TRIES = 7
GOALS = {"--help": 3.0, "rate parshall --dim size=1ft --head 0.15": 5.0, "devices": 5.0}


def best_s(*words: str) -> float:
    """Return the shortest of some runs, seconds."""
    found = []
    for _ in range(TRIES):
        begin = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, capture_output=True)
        found.append(time.perf_counter() - begin)
    return min(found)


def run() -> list[str]:
    peer = best_s("-c", "import numpy")
    lines = []
    for words, goal in GOALS.items():
        ratio = best_s("-m", "app.cli", *words.split()) / peer
        lines.append(f"sillbook {words}: {ratio:.2f} x import numpy (goal at most {goal:g})")
    return lines
