"""A small dose of the sweep over every query and every form of the demo: never a 500."""

from pathlib import Path

from tests.web.sweep import steward_of, sweep

DOSE = {"sqlite": 500, "postgresql": 200}  # `python -m tests.web.sweep` takes what it is told


def test_no_query_and_no_form_of_any_page_is_a_500(database_url: str, tmp_path: Path) -> None:
    dose = DOSE[database_url.partition(":")[0].partition("+")[0]]
    app, client = steward_of(database_url, tmp_path)
    try:
        counts, faults = sweep(app, client, dose)
    finally:
        app.state.engine.dispose()
    assert not faults, "\n".join(faults)
    assert counts[200] > dose / 10, counts
    assert counts[422] > dose / 10, counts
