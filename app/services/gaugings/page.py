"""One check gauging explained: what was observed, the sums, the rating, the phone beside them."""

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from app.hydraulics.gauging.dilution import Gulp
from app.hydraulics.gauging.velocity_area import VelocityArea
from app.language import words
from app.language.trade import GAUGING_PARTS
from app.records.entries import Entry
from app.records.sites import Rating, Site
from app.services.entries.links import named_by
from app.services.gaugings.results import GaugingResult, gauging_result
from app.services.readings.rate import PHONE_DIFFERENCE
from app.services.sites.register import get_site
from app.services.sites.views import described

FEW_READINGS = 60  # rows of a trace on the page; the whole trace is in the JSON


@dataclass(frozen=True, kw_only=True)
class GaugingPage:
    """Everything a page says of one check gauging."""

    result: GaugingResult
    site: Site
    body: dict[str, Any]
    facts: list[tuple[str, str]]
    observed: list[tuple[str, list[str], list[list[str]]]]
    parts: list[tuple[str, float]]
    rating_described: str
    phone: list[tuple[str, str, str]]
    phone_words: str
    has_picture: bool
    corrects: Entry | None


def explain(session: Session, entry_id: str) -> GaugingPage:
    """Return one check gauging for its page; raises NotFound."""
    one = gauging_result(session, entry_id)
    body = one.entry.body
    rating = session.get(Rating, one.rating.rating_id) if one.rating.rating_id else None
    said = one.gauging.parts if one.gauging else {}
    named = session.get(Entry, named_by(one.entry) or "")
    phone, phone_words = beside(one)
    return GaugingPage(
        result=one,
        site=get_site(session, one.entry.site_id),
        body=body,
        facts=facts(one),
        observed=tables_of(one),
        parts=[(GAUGING_PARTS.get(name, name), pct) for name, pct in said.items() if pct > 0.0],
        rating_described=described(rating) if rating else "no rating in force",
        phone=phone,
        phone_words=phone_words,
        has_picture=isinstance(one.gauging, VelocityArea | Gulp),
        corrects=named if named and named.kind == one.entry.kind else None,
    )


def facts(one: GaugingResult) -> list[tuple[str, str]]:
    """Return what the method found on the way, as pairs of words."""
    found = one.gauging
    if isinstance(found, VelocityArea):
        edges = ", ".join(
            f"{name} edge a {kind}"
            for name, kind in zip(("first", "last"), found.edges, strict=True)
        )
        return [
            ("Verticals in the water", str(found.verticals)),
            ("Edges", edges),
            ("Width", f"{found.width_m:.2f} m"),
            ("Area", f"{found.area_m2:.3f} m²"),
            ("Mean velocity", f"{found.mean_velocity_ms:.3f} m/s"),
            ("Largest panel", f"{found.largest_share_pct:.1f} %"),
        ]
    if isinstance(found, Gulp):
        mixing = "not checked"
        if found.mixed is not None:
            mixing = f"probes differ by {found.mixing_difference_pct:.1f} %"
        return [
            ("Dose", f"{found.dose_g:g} g"),
            ("Factor", f"{found.factor:.4f} mg/L for 1 µS/cm"),
            ("Background", _background(found)),
            ("Peak", f"{found.peak:.1f} µS/cm"),
            ("Integral above background", f"{found.integral:.1f} µS s/cm"),
            ("Mixing", mixing),
            (
                "Tail",
                "complete" if found.tail_complete else f"{found.tail_missing_pct:.1f} % missing",
            ),
        ]
    return []


def tables_of(one: GaugingResult) -> list[tuple[str, list[str], list[list[str]]]]:
    """Return what was observed as tables: title, heads of columns, rows; figures as typed."""
    observed = one.entry.body["observed"]
    return TABLES[observed["method"]](one, observed)


def _verticals(one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    found = one.gauging if isinstance(one.gauging, VelocityArea) else None
    mid = found is not None and len(found.panel_m3s) == len(found.distance_m)
    heads = ["Vertical", "Distance, m", "Depth, m", "Points, m/s", "Mean, m/s", "Panel", "Share"]
    rows = []
    for i, vertical in enumerate(observed["verticals"]):
        points = "; ".join(_point(key, p) for key, p in (vertical.get("points") or {}).items())
        row = [str(i + 1), str(vertical["distance_m"]), str(vertical["depth_m"]), points]
        row.append(f"{found.velocity_ms[i]:.3f}" if found else "")
        carried = found is not None and i < len(found.panel_m3s)
        row.append(f"{found.panel_m3s[i] * 1000:.2f} L/s" if found and carried else "")
        row.append(f"{found.share_pct[i]:.1f} %" if found and carried else "")
        rows.append(row)
    title = "Verticals" if mid or found is None else "Verticals; a panel lies after its vertical"
    tables: list[Any] = [(title, heads, rows)]
    if observed.get("meter_pieces"):
        pieces = [[str(cell) for cell in piece] for piece in observed["meter_pieces"]]
        names = ["From, rev/s", "Slope, m", "Offset, m/s"]
        tables.append(("Equation of the meter", names, pieces))
    if observed.get("components"):
        changed = [[name, str(value)] for name, value in observed["components"].items()]
        tables.append(("Changed components of the uncertainty", ["Component", "%"], changed))
    return tables


def _background(found: Gulp) -> str:
    if found.background_after_from == "not read":
        return f"{found.background:.1f} µS/cm before, after not read"
    return (
        f"{found.background:.1f} µS/cm before, {found.background_end:.1f} after; "
        f"the difference moves the discharge by {found.drift_effect_pct:+.1f} % if ignored"
    )


def _point(key: str, point: dict[str, Any]) -> str:
    depth = {"v": "mean", "v02": "0.2", "v06": "0.6", "v08": "0.8"}[key]
    if point.get("velocity_ms") not in (None, ""):
        return f"{depth}: {point['velocity_ms']}"
    return f"{depth}: {point.get('counts')} counts in {point.get('seconds')} s"


def _fills(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    rows = [
        [str(i), str(fill["volume_l"]), str(fill["time_s"])]
        for i, fill in enumerate(observed["fills"], start=1)
    ]
    return [("Fills", ["Fill", "Volume, L", "Time, s"], rows)]


def _trace(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    columns = [observed["time_s"], observed["conductivity_us_cm"]]
    heads = ["Time, s", "Conductivity, µS/cm"]
    if observed.get("second_us_cm"):
        columns.append(observed["second_us_cm"])
        heads.append("Second probe, µS/cm")
    rows = [[f"{cell:g}" for cell in row] for row in zip(*columns, strict=False)]
    step = max(1, -(-len(rows) // FEW_READINGS))
    title = "Trace" if step == 1 else f"Trace, every {step}th of {len(rows)} readings"
    tables: list[Any] = [(title, heads, rows[::step])]
    if observed.get("calibration"):
        points = [
            [str(p["concentration_mg_l"]), str(p["conductivity_us_cm"])]
            for p in observed["calibration"]
        ]
        names = ["Salt added, mg/L", "Conductivity, µS/cm"]
        tables.insert(0, ("Calibration at the site", names, points))
    return tables


def _constant(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    unit = observed.get("unit") or "mg/L"
    rows = [
        ["Feed", f"{observed['injection_ml_s']} mL/s"],
        ["Concentration of the feed", f"{observed['injected']} {unit}"],
        *(
            [f"Background {when}", f"{value} {unit}" if value not in (None, "") else "not read"]
            for when, value in (
                ("before", observed.get("background")),
                ("after", observed.get("background_end")),
            )
        ),
        *(["Plateau", f"{each} {unit}"] for each in observed["plateau"]),
    ]
    return [("Readings", ["What", "As typed"], rows)]


def _floats(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    rows = [
        ["Length of the run", f"{observed['distance_m']} m"],
        ["Width", f"{observed['width_m']} m"],
        ["Depths", ", ".join(str(d) for d in observed["depths_m"]) + " m"],
        ["Times", ", ".join(str(t) for t in observed["times_s"]) + " s"],
        ["Mean over surface velocity", str(observed.get("factor") or "0.85")],
    ]
    return [("Readings", ["What", "As typed"], rows)]


def _portable(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    rows = [["Device", observed.get("described") or "not named"]]
    if observed.get("device"):
        rows.append(["Heads", ", ".join(str(h) for h in observed["heads_mm"]) + " mm"])
        rows.append(["Free drop", "seen" if observed.get("free_seen") else "not seen"])
    else:
        rows.append(["Discharge by its table", f"{observed.get('discharge_l_s')} L/s"])
        rows.append(["Uncertainty stated", f"{observed.get('uncertainty_pct')} %"])
    return [("Readings", ["What", "As typed"], rows)]


def _stated(_one: GaugingResult, observed: dict[str, Any]) -> list[Any]:
    pct = observed.get("uncertainty_pct")
    rows = [
        ["Discharge stated", f"{observed['discharge']} {observed.get('unit') or 'L/s'}"],
        ["Uncertainty stated", "none: unknown" if pct in (None, "") else f"{pct} %"],
        ["Method, in the words of the book", observed.get("described") or "not said"],
    ]
    return [("Readings", ["What", "As written"], rows)]


TABLES = {
    "velocity_area": _verticals,
    "volumetric": _fills,
    "dilution_gulp": _trace,
    "dilution_constant": _constant,
    "float": _floats,
    "portable": _portable,
    "stated": _stated,
}


def beside(one: GaugingResult) -> tuple[list[tuple[str, str, str]], str]:
    """Return phone and office side by side, and in words whether they agree."""
    shown = one.entry.body.get("preview")
    if not shown:
        return [], ""

    def text(discharge: Any, pct: Any) -> str:
        return "none" if discharge is None else words.discharge(discharge, pct)

    rows = [
        ("Discharge", text(shown.get("discharge_m3s"), shown.get("uncertainty_pct")),
         text(one.discharge_m3s, one.uncertainty_pct)),
        ("By the rating", text(shown.get("rating_m3s"), shown.get("rating_uncertainty_pct")),
         text(one.rating.discharge_m3s, one.rating.uncertainty_pct)),
        ("Deviation", signed(shown.get("deviation_pct")), signed(one.deviation_pct)),
        ("E_n", two(shown.get("e_n")), two(one.e_n)),
        ("Verdict", shown.get("word") or "none", one.word),
    ]  # fmt: skip
    phone, office = shown.get("discharge_m3s"), one.discharge_m3s
    if phone is None or office is None:
        said = (
            "There is nothing to compare."
            if phone is office
            else "Only one of them has a discharge."
        )
    elif abs(phone - office) > PHONE_DIFFERENCE * abs(office):
        said = (
            f"The phone differs by {100 * (phone / office - 1):+.2f} %; the office's value counts."
        )
    else:
        said = "They agree."
    if shown.get("rating_id") != one.rating.rating_id:
        said += " The phone judged by another rating."
    return rows, said


def signed(pct: float | None) -> str:
    return "unknown" if pct is None else f"{pct:+.1f} %"


def two(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}"
