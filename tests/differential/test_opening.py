"""The opening of a gate: is the head steady, and how far logger and sensor were off."""

from datetime import timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.families.registry import build
from app.hydraulics.gauging.steadiness import Limits
from app.hydraulics.rating.curve import phone_table
from app.language.clock import iso
from app.records.sites import Rating
from app.services.entries.standing import Standing
from app.services.install.openings import opening_view
from tests.builders.rows import NOW, entry_row, structure_row, zero_row
from tests.differential.harness import Phone, drawn, same

BEGAN = NOW - timedelta(days=90)
TABLE = phone_table(build("parshall", {"size": "1ft"}))
SHARE = 1e-3  # of a rise or wait: the exponent and discharge of a table against the equation's


def at(second: int) -> str:
    return iso(NOW + timedelta(seconds=second))


@st.composite
def heads(draw) -> list[dict[str, Any]]:
    """Staff readings in order of time, of a pond that fills, falls or stands."""
    base = draw(st.sampled_from([0.2, 0.05, 0.4]))
    seconds = sorted(draw(st.lists(st.integers(0, 3600), max_size=8, unique=True)))
    trend = draw(st.sampled_from([0.0, 0.0, 0.004, -0.004]))
    return [
        {
            "at": at(second),
            "staff_m": round(base + trend * i + draw(st.integers(-2, 2)) / 1000, 4),
            "tail_staff_m": None,
        }
        for i, second in enumerate(seconds)
    ]


@drawn
@given(
    taken=heads(),
    moves=st.lists(st.integers(-600, 3600), max_size=3).map(sorted),
    zero_known=st.booleans(),
    rated=st.booleans(),
    offset_mm=st.integers(-20, 20),
    pond=st.sampled_from([None, 400.0, 5000.0]),
)
def test_a_head_is_as_steady(
    phone: Phone,
    taken: list[dict[str, Any]],
    moves: list[int],
    zero_known: bool,
    rated: bool,
    offset_mm: int,
    pond: float | None,
) -> None:
    zero = zero_row(BEGAN, offset_mm / 1000) if zero_known else None
    rating = (
        Rating(id=1, structure_id=1, valid_from=BEGAN, family="parshall", dims={"size": "1ft"})
        if rated
        else None
    )
    body = {"heads": taken, "gate": [{"at": at(second), "text": "up"} for second in moves]}
    structure = structure_row(pond_area_m2=pond)
    entry = entry_row("opening", body, structure.id)
    office = opening_view(entry, structure, zero, rating, "", Standing([]), limits=Limits()).steady
    place = {
        "gauge_zeros": []
        if zero is None
        else [{"id": 1, "valid_from": iso(BEGAN), "offset_m": zero.offset_m}],
        "ratings": [{"id": 1, "valid_from": iso(BEGAN), "table": TABLE}] if rated else [],
        "head_uncertainty_m": structure.head_uncertainty_m,
        "pond_area_m2": pond,
    }
    got = phone.ask("opening_entry.steadyNow", body, place)["result"]
    where = f"{body} {place['gauge_zeros']} rated {rated} pond {pond}"
    if office is None:
        assert got["word"] == "unknown", where
        return
    assert got["word"] == office.word, (where, got, office)
    for key in ("slope_m_per_s", "range_m", "storage_m3s", "wait_min"):
        same(got[key], getattr(office, key), f"{where} {key}", SHARE)


@drawn
@given(
    before=st.one_of(st.none(), st.integers(-100_000, 100_000)),
    after=st.one_of(st.none(), st.integers(-200, 200)),
    offset_min=st.sampled_from([0, 720, -210]),
)
def test_a_logger_is_as_far_off(
    phone: Phone, before: int | None, after: int | None, offset_min: int
) -> None:
    def shown(away_s: int | None) -> str:
        if away_s is None:
            return ""
        local = NOW + timedelta(seconds=away_s, minutes=offset_min)
        return local.replace(tzinfo=None).isoformat(timespec="seconds")

    values = {"clock_right": iso(NOW), "clock_before": shown(before), "clock_after": shown(after)}
    got = phone.ask("opening_entry.clockErrors", values, offset_min)["result"]
    clock = {"right": iso(NOW)} | {
        key: phone.ask("opening_entry.withSeconds", values[f"clock_{key}"], offset_min)["result"]
        for key in ("before", "after")
    }
    structure = structure_row()
    entry = entry_row("opening", {"clock": clock}, structure.id)
    office = opening_view(entry, structure, None, None, "", Standing([]), limits=Limits())
    assert got == {"before_s": office.clock_before_s, "after_s": office.clock_after_s}
    assert got == {"before_s": before, "after_s": after}
