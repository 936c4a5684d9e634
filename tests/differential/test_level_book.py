"""A level run from what is typed on the phone to what the office makes of the entry."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.services.surveys.runs import points_by_role, run_view
from app.services.surveys.zeros import doubt
from tests.builders.rows import entry_row
from tests.differential.harness import Phone, answered, drawn, same

CORNERS = ["corner_ul", "corner_ur", "corner_dl", "corner_dr"]
PLACES = ["floor", "staff_mark", "water", "tail_mark", "bank"]
NOW = "2026-11-25T09:00:00.000Z"


def millimetres(low: int, high: int) -> st.SearchStrategy[str]:
    return st.integers(low, high).map(lambda mm: f"{mm / 1000:.4f}")  # four decimals: one meaning


@st.composite
def booked(draw) -> list[dict[str, Any]]:
    """Sights of one or two set-ups: corners and places, closed on the first mark or left open."""
    first = {"kind": "bs", "point": "BM1", "role": "benchmark"}
    seen = draw(st.lists(st.sampled_from(CORNERS + PLACES), max_size=7, unique=True))
    sights = [first, *({"kind": "is", "point": role, "role": role} for role in seen)]
    if draw(st.booleans()):
        turn = {"point": "TP1", "role": "turning_point"}
        sights += [{"kind": "fs", **turn}, {"kind": "bs", **turn}]
    if draw(st.integers(0, 3)):
        close = draw(st.sampled_from(["BM1", "BM1 (close)", "BM2"]))
        sights.append({"kind": "fs", "point": close, "role": "benchmark"})
    lengths = draw(st.booleans())
    for sight in sights:
        sight["text"] = draw(millimetres(1180, 1230))
        if lengths:
            sight["distance_text"] = draw(st.sampled_from(["20", "35.5", ""]))
    return sights


VALUES = st.fixed_dictionaries(
    {
        "unit": st.sampled_from(["m", "m", "ft"]),
        "start_text": millimetres(99_000, 101_000),
        "close_text": st.one_of(st.just(""), millimetres(99_990, 100_010)),
        "sights": booked(),
        "rule": st.sampled_from(["setups", "ordinary", "distance", "fixed"]),
        "distance_text": st.sampled_from(["", "0.25", "1.5"]),
        "limit_text": st.sampled_from(["", "3", "0.25", "1.125", "2.625"]),
        "adjusted": st.booleans(),
        "staff_text": st.one_of(st.just(""), millimetres(0, 900)),
        "tail_text": st.one_of(st.just(""), millimetres(0, 900)),
        "tolerance_text": st.sampled_from(["2", "", "0.5"]),
        "low_head_text": st.sampled_from(["100", "", "60"]),
    }
)


def run_of(phone: Phone, values: dict[str, Any], exponent: float = 1.5) -> dict[str, Any]:
    return phone.ask("book", values, exponent, NOW)["result"]


@drawn
@given(values=VALUES, exponent=st.sampled_from([1.5, 1.522, 2.5]))
def test_the_office_makes_the_same_of_a_book(
    phone: Phone, values: dict[str, Any], exponent: float
) -> None:
    """Run, crest, marks and doubt of the entry equal what the page showed when it was saved."""
    got = run_of(phone, values, exponent)
    where = str(values)
    if got["problem"]:  # the page does not save it: nothing reaches the office
        assert got["problem"]["remedy"], where
        return
    body = got["body"]
    if got["lacking"]:
        return  # nor is a book saved whose limit is not known
    office = run_view(entry_row("level_run", body))
    same(got["run"], answered(lambda: office.run)["result"], where)
    assert got["roles"] == points_by_role(body), where
    same(got["results"], answered(lambda: office.results)["result"], where)
    same(got["tail_zero"], office.tail_zero_rl_m, where)
    same(got["marks"], office.marks_m, where)
    assert got["doubt"] == doubt(office), where
