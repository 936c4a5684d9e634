"""Cases of opening_vectors.json: heads while a gate opens, and the word for their flow, by hand."""

from typing import Any

from tests.vectors.harness import case

SOURCE = ("50 mm under the crest is no flow only when a person says dry", "common practice")
# name, head over the crest in m, said to be dry, word
BY_HAND: list[tuple[str, float, bool, str]] = [
    ("a plain head", 0.2, False, "assumed free"),
    ("at the crest", 0.0, False, "no flow"),
    ("2 cm under the crest", -0.02, False, "no flow"),
    ("49 mm under", -0.049, False, "no flow"),
    ("51 mm under, nobody said dry", -0.051, False, "not rated"),
    ("51 mm under, dry", -0.051, True, "no flow"),
    ("9 m under", -9.0, False, "not rated"),
    ("a plain head, dry said by mistake", 0.2, True, "assumed free"),
]


def vectors() -> list[dict[str, Any]]:
    return [
        case(name, "opening_word", {"head_m": head_m, "dry": dry}, {"result": word}, source=SOURCE)
        for name, head_m, dry, word in BY_HAND
    ]
