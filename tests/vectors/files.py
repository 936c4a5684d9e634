"""Every file of shared vectors: what it is about, and who makes its cases."""

from collections.abc import Callable

from tests.vectors import (
    gauging,
    install,
    opening,
    plan,
    preview,
    standing,
    steadiness,
    survey,
    typed,
    words,
)
from tests.vectors.harness import Case

FILES: dict[str, tuple[str, Callable[[], list[Case]]]] = {
    "gauging_observed_vectors": ("Check gaugings as typed; invented data.", gauging.vectors),
    "gaugings_vectors": (
        "Sums of check gaugings; invented sections and traces.",
        lambda: survey.made(survey.gauging_cases()),
    ),
    "install_vectors": ("Sums of an install; invented boxes and stops.", install.vectors),
    "levels_vectors": ("Level runs; invented.", lambda: survey.made(survey.level_cases())),
    "opening_vectors": ("Heads while a gate opens; invented.", opening.vectors),
    "plan_vectors": ("Candidates of an invented plan.", plan.vectors),
    "preview_vectors": ("Phone tables and invented readings.", preview.vectors),
    "standing_vectors": ("Linked entries, made up and by chance.", standing.vectors),
    "steadiness_vectors": ("Steadiness of head readings; invented data.", steadiness.vectors),
    "typed_vectors": ("Spellings of numbers.", typed.vectors),
    "words_vectors": ("Discharges in words.", words.vectors),
}
