"""The kinds of item in the review queue, as people read them: of one, of several."""

KINDS: dict[str, tuple[str, str]] = {
    "fault": ("fault of the series", "faults of the series"),
    "drowned": ("drowned stretch", "drowned stretches"),
    "offer": ("layer offered", "layers offered"),
    "differs": ("difference of staff and sensor", "differences of staff and sensor"),
    "conflict": ("file that disagrees", "files that disagree"),
    "file": ("file to import", "files to import"),
    "refused": ("refused entry", "refused entries"),
    "rival": ("rival correction", "rival corrections"),
    "link": ("correction without effect", "corrections without effect"),
    "zero": ("zero without a run", "zeros without a run"),
    "ahead": ("time ahead", "times ahead"),
    "stale": ("line out of date", "lines out of date"),
}
