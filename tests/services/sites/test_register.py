"""Sites and structures: what the office enters, kept with its history and nobody's change lost."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.language import forms
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Structure
from app.services.sites import changes, structures
from app.services.sites import register as sites
from app.services.sites import views as structure_views
from app.services.sites.tables import site_list
from tests.conftest import a_reading, send

SITE = {
    "code": "TANSY",
    "name": "Tansy Hollow intake",
    "utc_offset": "+12:00",
    "head_unit": "mm",
    "latitude": "-43,6021",
    "longitude": "171.9034",
    "hazards": "Deep pool",
    "notes": "",
}
FLUME = {
    "name": "Flume",
    "family": "parshall",
    "dim.size": "1ft",
    "tailwater_gauge": "yes",
    "pond_area_m2": "40",
    "head_uncertainty_mm": "2",
    "valid_from": "2026-07-01T00:00",
    "reason": "as built",
    "crest_rl_m": "99.2235",
    "zero_rl_m": "99.2230",
}


def test_a_site_keeps_what_was_typed(session: Session) -> None:
    site = sites.add_site(session, SITE, None)
    assert (site.latitude, site.longitude, site.utc_offset_min) == (-43.6021, 171.9034, 720)
    assert sites.form_of(site)["utc_offset"] == "+12:00"
    line = changes.changes(session, site.id or 0)[0]
    assert (line.action, line.subject) == ("added", "site")


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("code", "two words"),
        ("code", ""),
        ("name", ""),
        ("utc_offset", "15:00"),
        ("utc_offset", "noon"),
        ("latitude", "91"),
        ("latitude", "north"),
        ("head_unit", "ft"),
    ],
)
def test_an_impossible_field_is_refused_by_name(session: Session, field: str, typed: str) -> None:
    with pytest.raises(BadInput) as refused:
        sites.add_site(session, SITE | {field: typed}, None)
    assert refused.value.field == field
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [("+12:00", 720), ("12", 720), ("UTC-03:30", -210), ("−5", -300), ("0", 0), ("+0545", 345)],
)
def test_an_offset_is_read_as_people_write_it(typed: str, minutes: int) -> None:
    assert forms.utc_offset_min({"utc_offset": typed}) == minutes


def test_half_a_position_is_refused(session: Session) -> None:
    with pytest.raises(BadInput, match="both latitude and longitude"):
        sites.add_site(session, SITE | {"longitude": ""}, None)


def test_a_code_is_taken_once(session: Session) -> None:
    sites.add_site(session, SITE, None)
    with pytest.raises(BadInput, match="another site has this code"):
        sites.add_site(session, SITE | {"name": "Other"}, None)


def test_the_second_of_two_people_sees_the_first_change(
    session: Session, a_person: Callable[..., Person]
) -> None:
    rudd, other = a_person("Rudd", "office"), a_person("Mara", "office")
    site = sites.add_site(session, SITE, rudd.id)
    session.commit()
    opened = sites.form_of(site)
    sites.change_site(session, site.id or 0, opened | {"hazards": "Bull in the paddock"}, rudd.id)
    session.commit()
    with pytest.raises(ChangedMeanwhile) as clash:
        sites.change_site(session, site.id or 0, opened | {"notes": "Key at the gate"}, other.id)
    session.rollback()
    assert "Rudd" in clash.value.rule
    assert clash.value.now["hazards"] == "Bull in the paddock"
    kept = sites.get_site(session, site.id or 0)
    assert (kept.hazards, kept.notes) == ("Bull in the paddock", "")
    again = opened | {"notes": "Key at the gate", "revision": clash.value.now["revision"]}
    sites.change_site(session, site.id or 0, again, other.id)
    session.commit()
    line = changes.changes(session, site.id or 0)[0]
    assert line.by == "Mara"
    assert line.after == {"hazards": "Deep pool", "notes": "Key at the gate"}
    assert line.before == {"hazards": "Bull in the paddock", "notes": ""}


def test_a_structure_comes_with_its_first_rating_and_zero(session: Session) -> None:
    site = sites.add_site(session, SITE, None)
    structure = structures.add_structure(session, site.id or 0, FLUME, None)
    assert structure.head_uncertainty_m == 0.002
    assert structure.dims["size"] == "1ft"
    rating = session.exec(select(Rating)).one()
    assert rating.valid_from == datetime(2026, 6, 30, 12, 0, tzinfo=UTC)  # site midnight
    zero = session.exec(select(GaugeZero)).one()
    assert zero.offset_m == pytest.approx(-0.0005, abs=1e-12)


def test_a_wrong_dimension_names_itself(session: Session) -> None:
    site = sites.add_site(session, SITE, None)
    with pytest.raises(BadInput) as refused:
        structures.add_structure(session, site.id or 0, FLUME | {"dim.size": "13ft"}, None)
    assert refused.value.field == "size"


def test_two_structures_of_a_site_have_two_names(session: Session) -> None:
    site = sites.add_site(session, SITE, None)
    structures.add_structure(session, site.id or 0, FLUME, None)
    with pytest.raises(BadInput) as refused:
        structures.add_structure(session, site.id or 0, FLUME, None)
    assert refused.value.field == "name"


def test_levels_over_two_datums_are_refused(session: Session) -> None:
    site = sites.add_site(session, SITE, None)
    with pytest.raises(BadInput, match="over the same datum"):
        structures.add_structure(session, site.id or 0, FLUME | {"zero_rl_m": "9.9223"}, None)


def test_every_family_has_a_form(session: Session) -> None:
    from app.services.sites.families import families

    site = sites.add_site(session, SITE, None)
    for family in families():
        boxes = structures.boxes(family)
        assert [b.key for b in boxes] == [d.key for d in family.dimensions]
        typed = {f"dim.{key}": str(value) for key, value in family.example.items()}
        form = {k: v for k, v in FLUME.items() if not k.startswith("dim.")} | typed
        made = structures.add_structure(
            session, site.id or 0, form | {"family": family.key, "name": family.name}, None
        )
        assert made.family == family.key
        filled = structures.rating_form(site, made, {}, datetime(2026, 7, 1, tzinfo=UTC))
        again = structures.device_from(filled).dims
        assert list(again) == list(made.dims)
        for key, value in made.dims.items():  # a form shows twelve figures
            assert again[key] == (value if isinstance(value, str) else pytest.approx(value, 1e-11))


def test_a_newer_rating_never_overwrites(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site()
    structure_id = structure.id or 0
    newer = {"family": "parshall", "dim.size": "2ft", "valid_from": "2026-01-01T00:00"}
    structures.add_rating(session, structure_id, newer | {"reason": "rebuilt"}, None)
    earlier = newer | {"dim.size": "9in", "valid_from": "2025-01-01T00:00", "reason": "found late"}
    structures.add_rating(session, structure_id, earlier, None)
    session.commit()
    shown = structure_views.views(session, structure.site_id)[0]
    assert [r["dims"]["size"] for r in shown.ratings] == ["2ft", "9in", "1ft"]
    assert session.get(Structure, structure_id).dims["size"] == "2ft"  # type: ignore[union-attr]
    actions = [c.action for c in changes.changes(session, structure.site_id)]
    assert actions == ["rating added", "rating added"]


def test_a_rating_needs_a_reason(session: Session, a_site: Callable[..., Structure]) -> None:
    form = {"family": "parshall", "dim.size": "2ft", "valid_from": "2026-01-01T00:00"}
    with pytest.raises(BadInput) as refused:
        structures.add_rating(session, a_site().id or 0, form, None)
    assert refused.value.field == "reason"


def test_the_list_shows_the_newest_standing_reading(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    wrong = a_reading(structure, ines, 0.512)
    send(session, ines, wrong)
    send(session, ines, a_reading(structure, ines, 0.215, corrects=wrong["id"], reason="misread"))
    row = site_list(session).rows[0]
    assert row["readings"] == 1  # the one that counts
    # 1 ft flume at 0.215 m: 0.6909 h^1.522 (Bos 1989, ILRI Publ. 20, sec. 7.4; from memory).
    assert row["last_discharge_m3s"] == pytest.approx(0.6909 * 0.215**1.522, rel=1e-6)
    assert row["last_flow"] == "assumed free"
