"""Run the benchmarks of this package that have a `run()`: `python -m tests.benchmarks [name]`."""

import importlib
import pkgutil
import sys

import tests.benchmarks as package


def main(wanted: list[str]) -> None:
    for found in pkgutil.iter_modules(package.__path__):
        if found.name == "__main__" or (wanted and found.name not in wanted):
            continue
        run = getattr(importlib.import_module(f"{package.__name__}.{found.name}"), "run", None)
        if run is None:
            continue
        print(f"{found.name}")
        for line in run():
            print(f"  {line}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
