"""From what was observed at a check gauging, figures as typed, to its discharge.

The phone takes the same steps (static/field/gauging_*.js); shared vectors prove the two equal.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.units import DISCHARGE_M3S
from app.hydraulics.gauging import dilution, dilution_constant, tracer
from app.hydraulics.gauging import verdict as gaugings
from app.hydraulics.gauging.current_meter import meter_velocity
from app.hydraulics.gauging.section_uncertainty import COMPONENTS
from app.hydraulics.gauging.velocity_area import velocity_area
from app.hydraulics.gauging.verdict import Gauging
from app.language import typed
from app.services.gaugings.portable import portable_gauging

LITRE_M3 = 0.001
DOSE_PCT = 1.0  # expanded, a mass weighed on a good scale; common practice
Observed = Mapping[str, Any]


def figure(field: str, value: object) -> float:
    """Return a typed figure as a number; raises BadInput naming the field."""
    if value is None or value == "":
        raise BadInput(field, "none", "is needed", "Measure it, or leave out the row.")
    return typed.figure(field, value)  # type: ignore[arg-type]


def asked(observed: Observed, field: str) -> float | None:
    """Return an optional figure; None when its box is empty."""
    value = observed.get(field)
    return None if value is None or value == "" else figure(field, value)


def options(observed: Observed, *fields: str) -> dict[str, float]:
    """Return the optional figures that were given, by field."""
    found = {field: asked(observed, field) for field in fields}
    return {field: value for field, value in found.items() if value is not None}


def figures(field: str, values: list[Any]) -> list[float]:
    return [figure(f"{field} {i}", each) for i, each in enumerate(values, start=1)]


def worked(observed: Observed) -> Gauging:
    """Return the gauging that the observations give.

    Raises
    ------
    BadInput
        Naming the figure that stands in the way, its rule and the remedy.
    """
    found = WORKED_BY[observed["method"]](observed)
    unknown = observed["method"] == "stated" and math.isnan(found.uncertainty_pct)
    if not (found.discharge_m3s > 0.0 and (unknown or found.uncertainty_pct > 0.0)):
        raise BadInput(
            "uncertainty_pct",
            found.uncertainty_pct,
            "must be more than zero",
            "No gauging is exact: say what vessel, watch or feed are good for.",
        )
    return found


def _velocity_area(observed: Observed) -> Gauging:
    pieces = [
        figures(f"meter equation {i}", row)
        for i, row in enumerate(observed.get("meter_pieces") or [], start=1)
    ]
    rows: list[dict[str, object]] = []
    for i, vertical in enumerate(observed["verticals"], start=1):
        name = f"vertical {i}"
        row: dict[str, object] = {
            key: "" if vertical[key] == "" else figure(f"{name} {key}", vertical[key])
            for key in ("distance_m", "depth_m")
        }
        for key, point in (vertical.get("points") or {}).items():
            velocity = _velocity(f"{name} {key}", point, pieces)
            if velocity is not None:
                row[key] = velocity
        rows.append(row)
    changes = {
        name: _component(name, value) for name, value in (observed.get("components") or {}).items()
    }
    return velocity_area(
        rows,
        method=observed.get("section", "mid"),
        edges=observed["edges"],
        components=changes,
    )


def _velocity(name: str, point: Mapping[str, Any], pieces: list[list[float]]) -> float | None:
    if point.get("velocity_ms") not in (None, ""):
        return figure(name, point["velocity_ms"])
    if point.get("counts") in (None, ""):
        return None
    counts = figure(f"{name} counts", point["counts"])
    seconds = figure(f"{name} seconds", point.get("seconds"))
    try:
        return meter_velocity(counts, seconds, pieces)
    except BadInput as error:
        raise BadInput(f"{name} {error.field}", error.value, error.rule, error.remedy) from None


def _component(name: str, value: Any) -> object:
    table = isinstance(value, list)
    if name in COMPONENTS and table != isinstance(COMPONENTS[name], list):
        kind = "a number" if table else "a table of pairs"
        raise BadInput(f"component {name}", "other", f"is {kind}", "Type the component again.")
    if isinstance(value, list):
        return [figures(name, pair) for pair in value]
    return figure(name, value)


def _volumetric(observed: Observed) -> Gauging:
    fills = observed["fills"]
    litres = figures("volume_l", [fill["volume_l"] for fill in fills])
    return gaugings.volumetric(
        volume_m3=[volume * LITRE_M3 for volume in litres],
        times_s=figures("time_s", [fill["time_s"] for fill in fills]),
        **options(observed, "volume_uncertainty_pct", "timer_uncertainty_s"),
    )


def _gulp(observed: Observed) -> Gauging:
    strength = asked(observed, "concentration_g_l")
    factor = asked(observed, "factor_mg_l_per_us_cm")
    factor_pct = asked(observed, "factor_uncertainty_pct")
    points = observed.get("calibration") or []
    if points:
        calibration = tracer.calibration_factor(
            figures("concentration_mg_l", [p["concentration_mg_l"] for p in points]),
            figures("conductivity_us_cm", [p["conductivity_us_cm"] for p in points]),
        )
        factor, factor_pct = calibration.factor, calibration.uncertainty_pct
    return dilution.gulp(
        time_s=observed["time_s"],
        trace=observed["conductivity_us_cm"],
        mass_g=asked(observed, "mass_g"),
        volume_l=asked(observed, "volume_l"),
        concentration_mg_l=None if strength is None else strength * 1000.0,
        factor=factor,
        factor_uncertainty_pct=factor_pct,
        background=asked(observed, "background_us_cm"),
        background_end=asked(observed, "background_end_us_cm"),
        second_trace=observed.get("second_us_cm"),
        dose_uncertainty_pct=options(observed, "dose_uncertainty_pct").get(
            "dose_uncertainty_pct", DOSE_PCT
        ),
    )


def _constant(observed: Observed) -> Gauging:
    return dilution_constant.constant_rate(
        injection_m3s=figure("injection_ml_s", observed["injection_ml_s"]) * 1e-6,
        injected=figure("injected", observed["injected"]),
        plateau=figures("plateau", observed["plateau"]),
        **options(
            observed,
            "background",
            "background_end",
            "injection_uncertainty_pct",
            "concentration_uncertainty_pct",
        ),
    )


def _float(observed: Observed) -> Gauging:
    depths = figures("depths_m", observed["depths_m"])
    if not depths:
        raise BadInput("depths_m", "none", "needs a depth", "Sound the run at several places.")
    return gaugings.float_gauging(
        distance_m=figure("distance_m", observed["distance_m"]),
        times_s=figures("times_s", observed["times_s"]),
        area_m2=figure("width_m", observed["width_m"]) * sum(depths) / len(depths),
        **options(observed, "factor", "uncertainty_pct"),
    )


def _portable(observed: Observed) -> Gauging:
    device = observed.get("device")
    if device is None:
        return gaugings.known_gauging(
            "portable device, its own table",
            figure("discharge_l_s", observed.get("discharge_l_s")) * LITRE_M3,
            figure("uncertainty_pct", observed.get("uncertainty_pct")),
        )
    heads_m = [each / 1000.0 for each in figures("heads_mm", observed.get("heads_mm") or [])]
    if not heads_m:
        raise BadInput("heads_mm", "none", "needs a head", "Read the head of the portable device.")
    spread = asked(observed, "head_uncertainty_mm")
    if spread is not None and spread < 0.0:
        raise BadInput(
            "head_uncertainty_mm", spread, "must not be below zero", "Leave it out for 2."
        )
    return portable_gauging(
        device["family"],
        device["dims"],
        heads_m,
        None if spread is None else spread / 1000.0,
        bool(observed.get("free_seen")),
    )


def _stated(observed: Observed) -> Gauging:
    """Return a discharge as a book states it: one of unknown uncertainty judges nothing."""
    discharge = figure("discharge", observed["discharge"])
    pct = asked(observed, "uncertainty_pct")
    how = (observed.get("described") or "").strip()
    flags = ("as a book states it", *(() if pct is not None else ("uncertainty unknown",)))
    return Gauging(
        method=f"{how}, as a book states it" if how else "as a book states it",
        discharge_m3s=discharge * DISCHARGE_M3S[observed.get("unit") or "L/s"],
        uncertainty_pct=math.nan if pct is None else pct,
        parts={} if pct is None else {"stated": pct},
        flags=flags,
        indication_only=pct is None,
    )


WORKED_BY: dict[str, Callable[[Observed], Gauging]] = {
    "velocity_area": _velocity_area,
    "volumetric": _volumetric,
    "dilution_gulp": _gulp,
    "dilution_constant": _constant,
    "float": _float,
    "portable": _portable,
    "stated": _stated,
}
