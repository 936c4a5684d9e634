"""A small dose of the sweep over every query and every form of the demo: never a 500."""

from pathlib import Path

from tests.web.sweep import steward_of, sweep

DOSE = 700  # `python -m tests.web.sweep` takes as many as it is told to


def test_no_query_and_no_form_of_any_page_is_a_500(database_url: str, tmp_path: Path) -> None:
    app, client = steward_of(database_url, tmp_path)
    try:
        counts, faults = sweep(app, client, DOSE)
    finally:
        app.state.engine.dispose()
    assert not faults, "\n".join(faults)
    assert counts[200] > DOSE / 10, counts
    assert counts[422] > DOSE / 10, counts
