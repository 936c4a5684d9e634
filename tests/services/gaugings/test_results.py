"""Check gaugings: worked out from what was observed, judged by the dated rating."""

import uuid
from collections.abc import Callable
from copy import deepcopy
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import CUBIC_FOOT, FOOT
from app.hydraulics.families.portable import PORTABLE
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.gaugings import page as gauging_page
from app.services.gaugings.results import gauging_result, gauging_results
from app.services.gaugings.tables import COLUMNS, for_phone, gaugings_table
from app.services.gaugings.work import worked
from app.services.sites.register import get_site
from app.services.sync.pack import pack
from tests.conftest import BEGIN, iso, send
from tests.vectors.gauging import fills, floats, gulp, section, vectors

AT = BEGIN + timedelta(days=30)


def a_gauging(
    structure: Structure,
    person: Person,
    observed: dict[str, Any] | None = None,
    *,
    staff_m: tuple[float, ...] = (0.25, 0.25),
    tail: str = "clearly_free",
    **changes: Any,
) -> dict[str, Any]:
    """Return a check gauging as a phone sends it; `body_` keywords change the body."""
    at = changes.pop("at", AT)
    body: dict[str, Any] = {
        "observed": deepcopy(observed or section()),
        "started_at": iso(at),
        "ended_at": iso(at + timedelta(minutes=30)),
        "heads": [
            {
                "at": iso(at + timedelta(minutes=10 * i)),
                "staff_m": each,
                "text": f"{each * 1000:.0f}",
            }
            for i, each in enumerate(staff_m)
        ],
        "head_unit": "mm",
        "tailwater": {"state": tail, "staff_m": None, "text": None},
        "control": ["clear"],
        "observers": ["Tamsin"],
        "instrument": {"kind": "propeller", "serial": "A-1", "last_calibration": "2024-02"},
        "tolerance_pct": None,
        "note": "",
        "time_reason": None,
        "cautions_read": True,
        "preview": None,
    }
    body |= {k.removeprefix("body_"): v for k, v in changes.items() if k.startswith("body_")}
    return {
        "id": str(uuid.uuid4()),
        "kind": "check_gauging",
        "site_id": structure.site_id,
        "structure_id": structure.id,
        "visit_id": None,
        "observed_at": iso(at),
        "utc_offset_min": 720,
        "by": person.id,
        "saved_at": iso(at + timedelta(hours=1)),
        "corrects": None,
        "reason": None,
        "body": body,
        **{k: v for k, v in changes.items() if not k.startswith("body_")},
    }


def stored(session: Session, person: Person, *entries: dict[str, Any]) -> None:
    assert [r.state for r in send(session, person, *entries)] == ["stored"] * len(entries)


def test_verdict_is_against_the_rating_at_the_mean_head(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(zero_offset_m=-0.0005), a_person()
    heads = (0.45, 0.451, 0.452)
    stored(
        session,
        ines,
        a_gauging(structure, ines, staff_m=heads),
        a_gauging(
            structure, ines, staff_m=heads, at=AT + timedelta(days=1), body_tolerance_pct="15"
        ),
    )
    one, wider = gauging_results(session, structure.site_id)
    assert one.head_mean_m == pytest.approx(0.4505)
    # the free-flow equation of the 1 ft Parshall flume as handbooks print it, feet and ft3/s:
    # Q = 4 W h^(1.522 W^0.026) (USBR Water Measurement Manual, from memory)
    handbook = 4.0 * (0.4505 / FOOT) ** 1.522 * CUBIC_FOOT
    assert one.rating.discharge_m3s is not None
    assert one.rating.discharge_m3s == pytest.approx(handbook, rel=0.005)
    assert one.discharge_m3s == pytest.approx(0.21108, rel=1e-4)
    assert one.deviation_pct == pytest.approx(100 * (0.21108 / one.rating.discharge_m3s - 1), 1e-3)
    # a section of ten panels is known to 12 % only: it cannot verify 10 %, but it can 15 %
    assert (one.word, wider.word) == ("not proven", "agrees")
    assert "known to 12.0 % only" in one.reason
    assert one.structure.id == structure.id
    assert one.by == "Ines"


def test_the_phones_own_figures_are_never_used(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    lie = {"discharge_m3s": 9.9, "uncertainty_pct": 0.1, "word": "agrees", "rating_m3s": 9.9}
    honest, lying = a_gauging(structure, ines), a_gauging(structure, ines, body_preview=lie)
    stored(session, ines, honest, lying)
    a, b = (gauging_result(session, e["id"]) for e in (honest, lying))
    assert a.discharge_m3s == b.discharge_m3s
    assert (a.word, a.deviation_pct) == (b.word, b.deviation_pct)
    page = gauging_page.explain(session, lying["id"])
    assert "differs" in page.phone_words


@pytest.mark.parametrize(
    ("site", "heads", "word", "reason"),
    [
        ({"zeroed": False}, (0.25, 0.25), "not proven", "no gauge zero was in force"),
        ({"rated": False}, (0.25, 0.25), "not proven", "no rating was in force"),
        ({}, (), "not proven", "no staff reading was taken"),
        ({}, (-0.1, -0.1), "not proven", "the head is not above the crest"),
        ({}, (0.25, 0.28), "not proven", "gauge again when it holds still"),
        ({}, (0.25, 0.25), "fails", "more than both uncertainties explain"),
    ],
)
def test_what_keeps_a_verdict_from_being_given(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    site: dict[str, Any],
    heads: tuple[float, ...],
    word: str,
    reason: str,
) -> None:
    structure, ines = a_site(**site), a_person()
    stored(session, ines, a_gauging(structure, ines, staff_m=heads))
    [one] = gauging_results(session, structure.site_id)
    assert one.discharge_m3s is not None
    assert one.word == word
    assert reason in one.reason


def test_one_reading_of_head_is_said_to_be_unsteady_for_all_we_know(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    stored(session, ines, a_gauging(structure, ines, staff_m=(0.45,)))
    [one] = gauging_results(session, structure.site_id)
    assert "unknown: one reading of head" in one.flags


def test_a_drowned_flume_and_an_unseen_tail_are_said(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(tailwater_gauge=True), a_person()
    deep = {"state": "read", "staff_m": 0.435, "text": "435"}
    stored(
        session,
        ines,
        a_gauging(structure, ines, staff_m=(0.45, 0.45), body_tailwater=deep),
        a_gauging(
            structure, ines, staff_m=(0.45, 0.45), tail="not_seen", at=AT + timedelta(days=1)
        ),
    )
    drowned, unseen = gauging_results(session, structure.site_id)
    assert drowned.rating.submergence_ratio == pytest.approx(0.435 / 0.45)
    assert drowned.word == "not proven"
    assert "submerged, not determined" in drowned.reason
    assert "rating: assumed free" in unseen.flags


def test_a_float_is_an_indication_only(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    stored(session, ines, a_gauging(structure, ines, floats()))
    [one] = gauging_results(session, structure.site_id)
    assert one.word == "not proven"
    assert "indication only" in one.reason


def test_a_slip_of_the_finger_is_stored_and_named(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    bad = section()
    bad["verticals"][4]["distance_m"] = "0.5"
    entry = a_gauging(structure, ines, bad)
    stored(session, ines, entry, a_gauging(structure, ines, gulp(background_us_cm="500")))
    for one in gauging_results(session, structure.site_id):
        assert one.discharge_m3s is None
        assert one.word == "no discharge"
        assert one.problem is not None
        assert one.problem.remedy
    kept = session.get(Entry, entry["id"])
    assert kept is not None
    assert kept.body["observed"]["verticals"][4]["distance_m"] == "0.5"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"observed": {"method": "guess"}}, "body"),
        ({"observed": floats(extra="x")}, "body.observed.float.extra"),
        ({"ended_at": iso(AT - timedelta(minutes=1))}, "body"),
        ({"heads": [{"at": iso(AT), "staff_m": "0.25"}]}, "body.heads.0.staff_m"),
        ({"observed": gulp(time_s=[0.0] * 5001)}, "body.observed.dilution_gulp.time_s"),
        ({"observed": fills("2" * 25, "8")}, "body.observed.volumetric.fills.0.volume_l"),
    ],
)
def test_what_cannot_be_a_gauging_is_refused_alone(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    change: dict[str, Any],
    field: str,
) -> None:
    structure, ines = a_site(), a_person()
    bad, good = a_gauging(structure, ines), a_gauging(structure, ines)
    bad["body"] |= change
    refused, kept = send(session, ines, bad, good)
    assert (refused.state, kept.state) == ("refused", "stored")
    assert refused.error is not None
    assert refused.error.field.startswith(field)


def test_a_correction_takes_the_place_and_rivals_are_said(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    first = a_gauging(structure, ines)
    fix = {"corrects": first["id"], "reason": "a depth was misread"}
    second = a_gauging(structure, ines, section(section="mean"), **fix)
    stored(session, ines, first, second)
    [one] = gauging_results(session, structure.site_id)
    assert one.entry.id == second["id"]
    assert not one.rival
    both = gauging_results(session, structure.site_id, with_corrected=True)
    assert {o.entry.id for o in both} == {first["id"], second["id"]}
    third = a_gauging(structure, ines, **fix)
    stored(session, ines, third)
    assert [o.rival for o in gauging_results(session, structure.site_id)] == [True, True]


def test_each_gauging_keeps_the_rating_of_its_own_date(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    newer = Rating(
        structure_id=structure.id or 0,
        valid_from=AT + timedelta(days=5),
        family=structure.family,
        dims={"size": "9in"},
        reason="throat found to be narrower (invented)",
    )
    session.add(newer)
    session.commit()
    early = a_gauging(structure, ines)
    late = a_gauging(structure, ines, at=AT + timedelta(days=10))
    stored(session, ines, early, late)
    before, after = gauging_results(session, structure.site_id)
    assert before.rating.rating_id != after.rating.rating_id == newer.id
    assert (before.rating.discharge_m3s or 0) > (after.rating.discharge_m3s or 0)
    [only] = gauging_results(session, structure.site_id, AT + timedelta(days=1))
    assert only.entry.id == late["id"]


def test_a_portable_device_is_built_through_the_registry(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    cards = {c["key"]: c for c in pack(session, ines, AT, demo=False)["portable"]}
    card = cards["plate-v90"]
    observed = {
        "method": "portable",
        "device": {key: card[key] for key in ("key", "family", "dims")},
        "heads_mm": ["199", "201"],
        "head_uncertainty_mm": None,
        "free_seen": True,
        "described": card["described"],
        "discharge_l_s": None,
        "uncertainty_pct": None,
    }
    stored(session, ines, a_gauging(structure, ines, observed))
    [one] = gauging_results(session, structure.site_id)
    # 90-degree notch, 1.38 h^2.5 (a national irrigation manual, read): 24.69 L/s at 0.2 m
    assert one.discharge_m3s == pytest.approx(1.38 * 0.2**2.5, rel=0.005)
    assert not any("free drop" in flag for flag in one.flags)


def test_the_phone_carries_the_newest_few_that_stand(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    entries = [a_gauging(structure, ines, at=AT + timedelta(days=i)) for i in range(8)]
    fix = a_gauging(
        structure, ines, at=AT + timedelta(days=7), corrects=entries[7]["id"], reason="typed wrong"
    )
    stored(session, ines, *entries, fix)
    few = for_phone(session)[structure.site_id]
    assert [one["id"] for one in few] == [
        fix["id"],
        *(e["id"] for e in entries[6:1:-1]),
    ]
    assert few[0]["word"] == "fails"


def test_the_table_has_a_cell_for_every_column(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    stored(session, ines, a_gauging(structure, ines), a_gauging(structure, ines, fills("20", "8")))
    site = get_site(session, structure.site_id)
    table = gaugings_table(site, gauging_results(session, structure.site_id))
    for row in table.rows:
        assert set(row) == {c.key for c in COLUMNS}
    by_method = {row["method"]: row for row in table.rows}
    row = by_method["velocity-area mid-section"]
    assert (row["verticals"], row["points_per_vertical"]) == (9, "1")
    assert row["max_panel_pct"] == pytest.approx(15.89, rel=1e-3)
    assert row["observers"] == ["Ines", "Tamsin"]
    assert by_method["volumetric"]["verticals"] is None


@pytest.mark.parametrize("case", vectors(), ids=lambda case: case["name"])
def test_every_gauging_has_a_page(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    case: dict[str, Any],
) -> None:
    structure, ines = a_site(), a_person()
    entry = a_gauging(structure, ines, case["args"])
    stored(session, ines, entry)
    page = gauging_page.explain(session, entry["id"])
    assert page.observed
    assert bool(page.parts) == ("result" in case)


TYPED = st.sampled_from(["", "0", "-1", "0,5", "1", "7.25", "1000000000", "abc", "-", "\u22122"])
NUMBERS = st.lists(st.floats(-1e9, 1e9), max_size=8)
POINT = st.fixed_dictionaries({"velocity_ms": TYPED, "counts": TYPED, "seconds": TYPED})
VERTICAL = st.fixed_dictionaries(
    {
        "distance_m": TYPED,
        "depth_m": TYPED,
        "points": st.dictionaries(st.sampled_from(["v", "v02", "v06", "v08"]), POINT),
    }
)
PAIRS = st.lists(st.lists(TYPED, min_size=2, max_size=2), min_size=1, max_size=4)
WILD: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "velocity_area": {
        "section": st.sampled_from(["mid", "mean"]),
        "edges": st.lists(st.sampled_from(["bank", "wall"]), min_size=2, max_size=2),
        "meter_pieces": st.lists(st.lists(TYPED, min_size=3, max_size=3), max_size=3),
        "verticals": st.lists(VERTICAL, max_size=6),
        "components": st.dictionaries(
            st.sampled_from(["systematic_pct", "meter", "verticals", "points", "other"]),
            TYPED | PAIRS,
            max_size=2,
        ),
    },
    "volumetric": {
        "fills": st.lists(st.fixed_dictionaries({"volume_l": TYPED, "time_s": TYPED}), max_size=4),
        "volume_uncertainty_pct": TYPED,
        "timer_uncertainty_s": TYPED,
    },
    "dilution_gulp": {
        "mass_g": TYPED,
        "time_s": NUMBERS,
        "conductivity_us_cm": NUMBERS,
        "second_us_cm": st.none() | NUMBERS,
        "background_us_cm": TYPED,
        "background_end_us_cm": TYPED,
        "calibration": st.lists(
            st.fixed_dictionaries({"concentration_mg_l": TYPED, "conductivity_us_cm": TYPED}),
            max_size=4,
        ),
        "dose_uncertainty_pct": TYPED,
    },
    "dilution_constant": {
        "injection_ml_s": TYPED,
        "injected": TYPED,
        "background": TYPED,
        "plateau": st.lists(TYPED, max_size=3),
        "injection_uncertainty_pct": TYPED,
    },
    "float": {
        "distance_m": TYPED,
        "times_s": st.lists(TYPED, max_size=3),
        "width_m": TYPED,
        "depths_m": st.lists(TYPED, max_size=3),
        "factor": TYPED,
        "uncertainty_pct": TYPED,
    },
    "portable": {
        "device": st.just(
            {"key": "k", "family": PORTABLE[0].family, "dims": dict(PORTABLE[0].dims)}
        ),
        "heads_mm": st.lists(TYPED, max_size=3),
        "head_uncertainty_mm": TYPED,
        "free_seen": st.booleans(),
    },
}


@pytest.mark.parametrize("method", WILD)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_whatever_is_typed_gives_a_gauging_or_a_named_error(
    method: str, data: st.DataObject
) -> None:
    observed = data.draw(st.fixed_dictionaries(WILD[method])) | {"method": method}
    error: BadInput | None = None
    try:
        found = worked(observed)
    except BadInput as refused:
        error = refused
    if error is None:
        assert found.discharge_m3s > 0.0
        assert found.uncertainty_pct > 0.0
    else:
        assert all((error.field, error.rule, error.remedy))
