"""Fits from stored gaugings: published laws recovered, choices kept, and a rating only by hand."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.optimize import curve_fit
from sqlmodel import Session, select

from app.errors import BadInput
from app.hydraulics.families.registry import fit_family
from app.hydraulics.rating.rate import rate
from app.records.audit import AuditEntry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.fits import adopt as fitted_ratings
from app.services.fits import candidates as fits
from app.services.fits import charts as fit_charts
from app.services.fits.candidates import OUT, WHY, fitted
from app.services.sites import structures
from app.services.sites.dated import device_of
from tests.builders.check_gaugings import FLOAT, a_gauging, gauge
from tests.conftest import BEGIN, a_reading, send

NOW = datetime(2026, 11, 25, 3, tzinfo=UTC)
HEADS = np.round(np.linspace(0.09, 0.42, 12), 3)


@pytest.fixture
def structure(a_site: Callable[..., Structure]) -> Structure:
    return a_site()


@pytest.fixture
def ines(a_person: Callable[..., Person]) -> Person:
    return a_person()


def noisy(seed: int = 5, C: float = 0.8, n: float = 1.6, e: float = 0.012) -> list[float]:
    rng = np.random.default_rng(seed)
    q = C * (HEADS - e) ** n * np.exp(rng.normal(0.0, 0.015, len(HEADS)))
    return [float(x) for x in q]


PUBLISHED = [
    # Utah State Univ. BIE 5300/6300 lecture 2 (2005), 0.61 m Parshall flume (read)
    (1.429, 1.55, [0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.66]),
    # Morgenschweis 2010, Hydrometrie, after Maniak 1997: log10 Q = -3.15485 + 1.98760 log10 H(cm),
    # the coefficient turned into metres (derived)
    (6.61226, 1.9876, [0.5, 0.8, 1.1, 1.4, 1.7, 2.0, 2.3]),
]


@pytest.mark.parametrize(("C", "n", "heads"), PUBLISHED)
def test_a_published_law_is_recovered(
    session: Session, structure: Structure, ines: Person, C: float, n: float, heads: list[float]
) -> None:
    gauge(session, structure, ines, heads, [C * h**n for h in heads])
    fit = fitted(session, structure.id or 0, {}).fit
    assert fit is not None
    assert fit.coefficients[0] == pytest.approx(C, rel=1e-6)
    assert fit.exponents[0] == pytest.approx(n, rel=1e-6)
    assert fit.cease_to_flow_m == pytest.approx(0.0, abs=1e-7)
    if n == 1.55:  # the lecture's worked pair: 0.75 m3/s at 0.66 m
        assert fit.discharge(0.66) == pytest.approx(0.75, abs=0.005)


def test_weights_are_gauging_and_head_as_scipy_has_it(
    session: Session, structure: Structure, ines: Person
) -> None:
    flows = noisy()
    for k, (head, flow) in enumerate(zip(HEADS, flows, strict=True)):
        at, pct = BEGIN + timedelta(days=k + 1), 3.0 + k % 4
        send(
            session,
            ines,
            a_gauging(structure, ines, float(head), flow, at=at, uncertainty_pct=pct),
        )
    fit = fitted(session, structure.id or 0, {}).fit
    assert fit is not None
    e, n = fit.cease_to_flow_m, fit.exponents[0]
    u = (3.0 + np.arange(12) % 4) / 200.0
    sigma = np.hypot(u, n / (HEADS - e) * structure.head_uncertainty_m / 2.0)

    def line(h: Any, a: float, n: float, e: float) -> Any:
        return a + n * np.log(h - e)

    best, _ = curve_fit(line, HEADS, np.log(flows), p0=(0.0, 1.5, 0.0), sigma=sigma)
    got = (np.log(fit.coefficients[0]), n, e)
    np.testing.assert_allclose(got, best, rtol=2e-3, atol=2e-5)  # weights settle in three turns


def test_what_has_a_doubt_is_left_out_for_it_at_first(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    later = BEGIN + timedelta(days=300)
    send(
        session,
        ines,
        a_gauging(structure, ines, 0.2, 0.03, at=later, tail_m=0.18),
        a_gauging(structure, ines, 0.2, 0.05, at=later + timedelta(days=1), observed=FLOAT),
        a_gauging(structure, ines, -0.1, 0.05, at=later + timedelta(days=2)),
    )
    found = fitted(session, structure.id or 0, {})
    assert [row.why for row in found.left_out] == [
        "drowned, so not on the free rating",
        "an indication only",
    ]
    assert found.rows[-1].candidate.unfit
    assert len(found.used) == 12
    again = fitted(session, structure.id or 0, found.choice)
    assert again.choice == found.choice
    assert again.fit is not None
    assert found.fit is not None
    assert again.fit.coefficients[0] == found.fit.coefficients[0]


def test_outliers_are_pointed_at_and_stay_until_a_person_says_why(
    session: Session, structure: Structure, ines: Person
) -> None:
    flows = noisy()
    flows[5] *= 1.25
    ids = gauge(session, structure, ines, [float(h) for h in HEADS], flows)
    found = fitted(session, structure.id or 0, {})
    assert found.rows[5].outlier == "query"
    assert found.rows[5].used
    silent = fitted(session, structure.id or 0, {"asked": "yes", OUT + ids[5]: "yes"})
    assert silent.fit is None
    assert silent.error is not None
    assert silent.error.field == WHY + ids[5]
    assert silent.rows[5].out  # the tick stays
    said = {"asked": "yes", OUT + ids[5]: "yes", WHY + ids[5]: "gate moved"}
    without = fitted(session, structure.id or 0, said)
    assert without.fit is not None
    assert len(without.used) == 11
    assert without.rows[5].residual_pct == pytest.approx(25.0, abs=4.0)  # still shown
    assert without.fit.scatter_pct < 0.5 * (found.fit.scatter_pct if found.fit else 0.0)


def test_too_few_are_refused_and_theory_is_offered(
    session: Session, structure: Structure, ines: Person
) -> None:
    heads = [0.1, 0.2, 0.3, 0.4]
    gauge(session, structure, ines, heads, [0.69 * h**1.522 for h in heads])
    found = fitted(session, structure.id or 0, {})
    assert found.error is not None
    assert found.error.field == "gaugings"
    assert "at least 6" in found.error.rule
    assert "gauge more" in found.error.remedy
    assert found.theory is not None
    assert found.theory.exponent == 1.522  # 1 ft Parshall, SI form (from memory)
    steadied = fitted(
        session, structure.id or 0, {"prior_exponent": str(found.theory.exponent), "asked": "yes"}
    )
    assert steadied.fit is not None
    assert steadied.fit.exponents[0] == pytest.approx(1.522, abs=1e-6)


def test_theory_never_comes_from_a_fit(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    fitted_ratings.make(session, structure.id or 0, made(), ines.id)
    session.commit()
    theory = fitted(session, structure.id or 0, {}).theory
    assert theory is not None
    assert theory.rating.id == 1


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"cease_to_flow_m": "low"}, "cease_to_flow_m"),
        ({"cease_to_flow_m": "0.2"}, "cease_to_flow_m"),
        ({"exponent": "9"}, "exponent"),
        ({"exponent": "1.5", "prior_exponent": "1.5"}, "prior_exponent"),
        ({"prior_exponent": "1.5", "prior_sd": "0"}, "prior_sd"),
        ({"breaks_m": "0.2; x"}, "breaks_m"),
        ({"breaks_m": "5"}, "breaks_m"),
        ({"exponent": "1.5", "breaks_m": "0.2"}, "exponent"),
        ({"from": "soon"}, "from"),
        ({"from": "2026-01-02", "to": "2026-01-01"}, "to"),
        ({"from": "2030-01-01"}, "gaugings"),
    ],
)
def test_bad_options_name_their_box_and_keep_what_was_typed(
    session: Session, structure: Structure, ines: Person, typed: dict[str, str], field: str
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    found = fitted(session, structure.id or 0, typed)
    assert found.fit is None
    assert found.error is not None
    assert found.error.field == field
    assert found.error.remedy
    for key, value in typed.items():
        assert found.form[key] == value


def test_breaks_are_read_as_people_write_them() -> None:
    form = dict.fromkeys(fits.OPTIONS, "")
    for text in ("0.2; 0.3", "0,2 0,3", "200 mm; 300 mm", "200 mm 300 mm"):
        assert fits.options_of({**form, "breaks_m": text}).breaks_m == pytest.approx((0.2, 0.3))


def made(**changes: str) -> dict[str, str]:
    return {
        "asked": "yes",
        "valid_from": "2025-01-01T00:00",
        "rating_pct": "4,5",
        "modular_limit": "0.62",
        "reason": "two seasons of gaugings",
        **changes,
    }


def test_a_fit_becomes_a_rating_only_by_a_person(
    session: Session, structure: Structure, ines: Person
) -> None:
    ids = gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    typed = made(**{OUT + ids[0]: "yes", WHY + ids[0]: "weed on the sill"})
    fit = fitted(session, structure.id or 0, typed).fit
    assert fit is not None
    assert len(session.exec(select(Rating)).all()) == 1  # a fit alone stores nothing
    rating = fitted_ratings.make(session, structure.id or 0, typed, ines.id)
    session.commit()
    assert rating.family == fit_family().key
    assert rating.valid_from == datetime(2024, 12, 31, 12, tzinfo=UTC)
    assert rating.by_id == ines.id
    assert rating.reason.startswith("two seasons of gaugings\n")
    assert "weed on the sill" in rating.reason
    assert "11 check gaugings" in rating.reason
    heads = np.linspace(fit.head_min_m, fit.head_max_m, 30)
    said = rate(device_of(rating), heads, None, 0.003, free_seen=np.ones(30, bool))
    np.testing.assert_allclose(said.discharge_m3s, fit.discharge(heads), rtol=1e-9)
    assert len(session.exec(select(Rating)).all()) == 2  # the old one stays


def test_segments_become_a_rating_that_meets(
    session: Session, structure: Structure, ines: Person
) -> None:
    heads = np.round(np.linspace(0.08, 0.9, 24), 3)
    depth, knee = heads - 0.01, 0.39
    q = 0.9 * depth**1.5 * np.where(depth > knee, (depth / knee) ** 0.6, 1.0)
    gauge(session, structure, ines, heads.tolist(), q.tolist())
    rating = fitted_ratings.make(session, structure.id or 0, made(breaks_m="0.4"), ines.id)
    device = device_of(rating)
    assert device.breaks_m == (0.4,)
    sides = device.free_flow(np.array([0.4 - 1e-9, 0.4 + 1e-9])).discharge_m3s
    assert sides[0] == pytest.approx(sides[1], rel=1e-6)
    np.testing.assert_allclose(device.free_flow(heads).discharge_m3s, q, rtol=1e-5)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reason": " "}, "reason"),
        ({"valid_from": "soon"}, "valid_from"),
        ({"rating_pct": ""}, "rating_pct"),
        ({"rating_pct": "80"}, "rating_pct"),
        ({"modular_limit": "1.2"}, "modular_limit"),
        ({"breaks_m": "7"}, "breaks_m"),
    ],
)
def test_no_rating_without_its_reason_date_and_uncertainty(
    session: Session, structure: Structure, ines: Person, changes: dict[str, str], field: str
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    with pytest.raises(BadInput) as refused:
        fitted_ratings.make(session, structure.id or 0, made(**changes), ines.id)
    assert refused.value.field == field


def test_the_look_shows_the_change_and_stores_nothing(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    days = (100, 110, 250, 260)  # the rating is to begin on day 183 or so
    send(
        session,
        ines,
        *(
            a_reading(
                structure, ines, 0.25, at=BEGIN + timedelta(days=d), tail_state="clearly_free"
            )
            for d in days
        ),
    )
    before = [session.exec(select(model)).all() for model in (Rating, FlowValue, AuditEntry)]
    look = fitted_ratings.look(session, structure.id or 0, made(), ines.id, NOW)
    session.commit()
    after = [session.exec(select(model)).all() for model in (Rating, FlowValue, AuditEntry)]
    assert after == before
    fit = look.found.fit
    assert fit is not None
    assert len(look.change.rows) == 2  # readings before its date keep their value
    old = look.change.rows[0]["before_m3s"]
    change = 100 * (float(fit.discharge(0.25)) / old - 1)
    assert look.change.rows[0]["change_pct"] == pytest.approx(change)
    assert look.volumes is not None
    assert look.volumes.change_pct == pytest.approx(change)
    assert look.volumes.measured_s == pytest.approx(10 * 86400)
    assert look.year_volumes is not None
    assert look.year_volumes.measured_s == pytest.approx(20 * 86400)


def test_uncertainty_is_the_widest_mean_band(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    found = fitted(session, structure.id or 0, {})
    assert found.fit is not None
    pct = fitted_ratings.uncertainty_of(found.fit)
    widest = max(found.fit.bands(HEADS).mean_pct)
    assert pct is not None
    assert widest <= pct <= widest + 0.5
    form = fitted_ratings.make_form(found, {"reason": "typed"}, NOW)
    assert form["rating_pct"] == f"{pct:g}"
    assert form["reason"] == "typed"
    assert float(form["modular_limit"]) == pytest.approx(0.62, abs=0.1)


def test_as_many_gaugings_as_parameters_has_no_band_and_no_default(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [0.2], [0.06])
    found = fitted(
        session, structure.id or 0, {"asked": "yes", "cease_to_flow_m": "0", "exponent": "1.5"}
    )
    assert found.fit is not None
    assert any("no band" in flag for flag in found.fit.flags)
    assert fitted_ratings.make_form(found, {}, NOW)["rating_pct"] == ""
    [row] = fit_charts.bands_table(found).rows
    assert row["discharge_m3s"] == pytest.approx(0.06)
    assert fit_charts.charts(found, log=True)["fit"]["bands"] == []


def test_a_fit_takes_over_what_is_known_of_drowning(
    session: Session, structure: Structure, ines: Person
) -> None:
    """The lowest limit of the rating in force, or that it cannot drown; never both, never lost."""
    gauge(session, structure, ines, [float(h) for h in HEADS], noisy())
    found = fitted(session, structure.id or 0, {})
    assert fitted_ratings.make_form(found, {}, NOW)["cannot_drown"] == ""
    never = {
        "family": structure.family,
        **{f"dim.{key}": str(value) for key, value in structure.dims.items()},
        "dim.cannot_drown": "falls freely onto rock",
        "valid_from": "2026-11-01T00:00",
        "reason": "looked at in flood",
    }
    structures.add_rating(session, structure.id or 0, never, ines.id)
    session.commit()
    form = fitted_ratings.make_form(fitted(session, structure.id or 0, {}), {}, NOW)
    assert (form["modular_limit"], form["cannot_drown"]) == ("", "falls freely onto rock")
    rating = fitted_ratings.make(
        session,
        structure.id or 0,
        {**form, "valid_from": "2026-11-02T00:00", "reason": "twelve gaugings"},
        ines.id,
    )
    assert rating.dims["cannot_drown"] == "falls freely onto rock"
    assert not device_of(rating).can_drown
