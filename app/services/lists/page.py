"""The lists on pages of one reading, one check gauging, one plan, as tables for .csv and .json."""

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.fits.tests import Standing
from app.services.gaugings import page as gauging_page
from app.services.plans import make as planning
from app.services.readings import page as reading_page
from app.services.sites.structures import place
from app.services.surveys import history as level_history

VALUE_COLUMNS = (
    Column("current", "Counts"),
    Column("rated_at", "Computed, UTC"),
    Column("head_m", "Head over crest, m"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("reason", "Why not rated"),
    Column("rating_id", "Rating"),
    Column("gauge_zero_id", "Gauge zero"),
    Column("engine", "Computed by"),
)
STEP_COLUMNS = (
    Column("title", "Step"),
    Column("working", "How"),
    Column("result", "Result"),
    Column("source", "Source"),
)
OBSERVED_COLUMNS = (
    Column("table", "Table"),
    Column("row", "Row"),
    Column("column", "Column"),
    Column("value", "Value, as typed"),
)
CANDIDATE_COLUMNS = (
    Column("number", "Candidate"),
    Column("described", "Described"),
    Column("problem", "Why it cannot be"),
    Column("crest_rl_m", "Crest, m"),
    Column("crest_above_floor_m", "Crest over the floor, m"),
    Column("flow", "At the flow"),
    Column("head_m", "Head over crest, m"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("discharge_uncertainty_pct", "Uncertainty of discharge, %, k=2"),
    Column("submergence_weedy", "Submergence ratio with weed"),
    Column("modular_limit", "Modular limit"),
    Column("freeboard_m", "Freeboard, m"),
    Column("froude", "Froude number of the approach"),
)
TREND_COLUMNS = (
    Column("corner", "Corner"),
    Column("slope_mm_per_year", "Against the mean, mm a year"),
)
TEST_COLUMNS = (
    Column("question", "Question"),
    Column("words", "Answer"),
    Column("test", "Test"),
    Column("figure", "Figure"),
    Column("value", "Value"),
)


def values_table(session: Session, entry_id: str) -> Table:
    """Return every discharge that a reading has had, the newest first."""
    found = reading_page.explain(session, entry_id)
    held = ([found.present] if found.present else []) + found.earlier
    rows = [
        {**{c.key: getattr(one.value, c.key, None) for c in VALUE_COLUMNS}, "flow": one.flow,
         "flags": one.flags}
        for one in held
    ]  # fmt: skip
    return Table(f"reading-values-{entry_id[:8]}", VALUE_COLUMNS, rows)


def steps_table(session: Session, entry_id: str) -> Table:
    """Return the steps from the staff to the discharge of a reading."""
    found = reading_page.explain(session, entry_id)
    return Table(
        f"reading-steps-{entry_id[:8]}", STEP_COLUMNS, [vars(step) for step in found.steps]
    )


def observed_table(session: Session, entry_id: str) -> Table:
    """Return what was observed at a check gauging, one cell a row: its tables have other heads."""
    rows = [
        {"table": title, "row": k, "column": name, "value": cell}
        for title, heads, cells in gauging_page.explain(session, entry_id).observed
        for k, row in enumerate(cells, 1)
        for name, cell in zip(heads, row, strict=False)
    ]
    return Table(f"observed-{entry_id[:8]}", OBSERVED_COLUMNS, rows)


def candidates_table(session: Session, plan_id: int) -> Table:
    """Return the candidates of a plan, a row for each flow they were asked for."""
    rows = []
    for number, one in enumerate(planning.get_plan(session, plan_id).plan.result["candidates"]):
        problem = (one.get("problem") or {}).get("rule")
        for flow in one.get("flows") or [{}]:
            known = {**one, **flow, "number": number, "problem": problem}
            row = {c.key: known.get(c.key) for c in CANDIDATE_COLUMNS}
            rows.append({**row, "flow": flow.get("name")})
    return Table(f"plan-{plan_id}", CANDIDATE_COLUMNS, rows)


def trends_table(session: Session, structure_id: int) -> Table:
    """Return how each corner of a structure moves over its level runs."""
    site, structure = place(session, structure_id)
    assert structure.id is not None
    found = level_history.level_history(session, structure.id, structure.site_id)
    rows = [{"corner": c, "slope_mm_per_year": slope} for c, slope in found.trend_rows]
    return Table(f"corners-{site.code}-{structure.id}", TREND_COLUMNS, rows)


def tests_table(found: Standing) -> Table:
    """Return what the gaugings say together of a rating: each test with its figures."""
    rows = []
    for question, key, test in (
        ("Does it read high or low throughout?", "bias", "Student's t, 95 %"),
        ("Do as many lie above as below?", "signs", "signs, 95 %"),
        ("Is it bent along the heads?", "runs", "runs, 95 %"),
        ("Does it drift with time?", "drift", "slope of a straight line, 95 %"),
    ):
        facts = vars(getattr(found.tests, key)) if found.tests else {}
        held = {"question": question, "words": facts.get("words"), "test": test}
        rows += [
            {**held, "figure": figure, "value": value}
            for figure, value in facts.items()
            if figure != "words"
        ]
    return Table(f"tests-{found.site.code}-{found.structure.id}", TEST_COLUMNS, rows)
