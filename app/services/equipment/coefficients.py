"""The coefficients that a calibration found, as people type them: one a line."""

from collections.abc import Iterable
from typing import Any

from app.errors import BadInput
from app.language import typed

MOST_COEFFICIENTS = 20


def read_coefficients(text: str) -> list[dict[str, Any]]:
    """Return coefficients typed one a line as `name: value unit`; raises BadInput."""
    found = []
    for number, line in enumerate((x for x in text.splitlines() if x.strip()), 1):
        name, _, rest = line.strip().partition(":")
        value, _, unit = rest.strip().replace("\t", " ").partition(" ")
        if not name.strip() or not value or len(name) > 80 or len(unit.strip()) > 20:
            raise BadInput(
                "coefficients", line[:80], "one a line: name: value unit",
                "Such as slope: 0.2519 m.",
            )  # fmt: skip
        if number > MOST_COEFFICIENTS:
            raise BadInput("coefficients", number, f"at most {MOST_COEFFICIENTS}", "Keep the rest.")
        try:
            figure = typed.read("coefficients", value)
        except BadInput as error:
            raise BadInput("coefficients", line[:80], error.rule, error.remedy) from None
        found.append({"name": name.strip(), "value": figure, "unit": unit.strip()})
    return found


def coefficient_lines(coefficients: Iterable[dict[str, Any]]) -> list[str]:
    """Return coefficients as they are typed, one a line."""
    return [f"{c['name']}: {typed.shown(c['value'])} {c['unit']}".rstrip() for c in coefficients]
