"""Gaugings and fits from files: find the columns, do the sums, hand back plain values."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.units import DISCHARGE_M3S
from app.hydraulics.gauging import dilution, dilution_constant, tracer
from app.hydraulics.gauging import verdict as gaugings
from app.hydraulics.gauging.velocity_area import velocity_area
from app.hydraulics.gauging.verdict import Gauging as Gauging  # the commands name it from here
from app.hydraulics.rating import fit as fitting
from app.services.entries.field_files import Spellings, has, need, number_list, numbers, read_table

_LITRE = DISCHARGE_M3S["L/s"]

_VERTICALS: Spellings = {
    "distance_m": [("(distance|dist|b|offset|station|x|tape|chainage)(_m)?", 1.0),
                   ("(distance|dist|b|offset|x|tape|chainage)_mm", 0.001),
                   ("(distance|dist|b|offset|x|tape|chainage)_cm", 0.01)],
    "depth_m": [("(depth|d|water_depth)(_m)?", 1.0), ("(depth|d)_mm", 0.001),
                ("(depth|d)_cm", 0.01)],
    "v02": [("(v|velocity|vel)_?(02|0_2|20)(d)?(_m_?s)?", 1.0)],
    "v06": [("(v|velocity|vel)_?(06|0_6|60)(d)?(_m_?s)?", 1.0)],
    "v08": [("(v|velocity|vel)_?(08|0_8|80)(d)?(_m_?s)?", 1.0)],
    "v": [("(mean_)?(v|velocity|vel|speed)(_mean)?(_m_?s)?", 1.0)],
    "points": [("points|n_points", 1.0)],
}  # fmt: skip

_TRACE: Spellings = {
    "time_s": [("(elapsed_?)?(time|t|seconds|secs|elapsed)(_?(s|sec|secs|seconds))?", 1.0),
               ("(elapsed_?)?(time|t|elapsed)_?(min|mins|minutes)|minutes", 60.0)],
    "second_conductivity": [
        ("(conductivity|cond|ec|sc)_?(2|b|right|second)(_us_?(per_)?cm)?", 1.0)],
    "conductivity": [("(conductivity|cond|conductance|specific_conduct\\w*|ec|ec25|sc)_ms_?cm",
                      1000.0),
                     ("(electrical_)?(conductivity|cond|conductance|specific_conduct\\w*|ec|ec25|"
                      "sc)(_?(1|a|left))?(_?us(_?(per_)?cm)?)?|us_?(per_)?cm", 1.0)],
    "concentration": [("(concentration|conc|c|tracer)_?(g_?l|g_per_l)", 1000.0),
                      ("(concentration|conc|c|tracer)_?(ug_?l|ppb|ug_per_l|mg_?m3)", 0.001),
                      ("(concentration|conc|c|c2|tracer|cl|nacl|salt)(_?(mg_?l|mg_per_l|ppm|"
                       "g_?m3))?|mg_?l|ppm", 1.0)],
}  # fmt: skip

_GAUGINGS: Spellings = {
    "head_m": [("(mean_)?(head|h|stage|ha)(_mean)?(_m)?", 1.0), ("(head|h|stage)_mm", 0.001),
               ("(head|h|stage)_cm", 0.01)],
    "discharge_m3s": [("(discharge|q|flow)(_(m3_?s|m3_per_s|cumecs))?", 1.0),
                      ("(discharge|q|flow)_l_?s", _LITRE)],
    "uncertainty_pct": [("(uncertainty|u|u_q|uq|expanded_uncertainty)(_(pct|percent))?", 1.0)],
}  # fmt: skip


def velocity_area_file(path: Path, *, method: str = "mid", edges: str = "bank") -> Gauging:
    """Gauge from a file with distance_m, depth_m and v, or v06, or v02 and v08, or all three.

    Parameters
    ----------
    method : "mid" or "mean" (also mid-section, mean-section)
    edges : "bank" or "wall" for both, or two parted by a comma
    """
    rows = read_table(path, _VERTICALS)
    need(rows, "distance_m", "depth_m")
    ends = [each.strip() for each in edges.split(",")]
    way = method.lower().removesuffix("section").strip("-_ ")
    return velocity_area(rows, method=way, edges=ends)


def volumetric_text(*, volume_l: float, times: str) -> Gauging:
    """Gauge from a volume in litres and filling times typed one after another."""
    return gaugings.volumetric(volume_m3=volume_l * _LITRE, times_s=number_list("times", times))


def float_text(*, distance_m: float, times: str, area_m2: float, factor: float) -> Gauging:
    """Gauge from float times typed one after another."""
    return gaugings.float_gauging(
        distance_m=distance_m, times_s=number_list("times", times), area_m2=area_m2, factor=factor
    )


def dilution_file(
    path: Path,
    *,
    mass_g: float | None = None,
    factor: float | None = None,
    volume_l: float | None = None,
    concentration_mg_l: float | None = None,
    background: float | None = None,
    background_end: float | None = None,
    calibration: Path | None = None,
) -> Gauging:
    """Gauge a gulp from a file with time_s and conductivity or concentration.

    Concentration is used where the file has it and no factor is given. A calibration file holds
    concentration and conductivity of the calibration points and gives the factor.
    """
    rows = read_table(path, _TRACE)
    factor_pct = None
    if calibration is not None:
        points = read_table(calibration, _TRACE)
        found = tracer.calibration_factor(
            numbers(points, "concentration"), numbers(points, "conductivity")
        )
        factor, factor_pct = found.factor, found.uncertainty_pct
    by_concentration = has(rows, "concentration") and (
        factor is None or not has(rows, "conductivity")
    )
    kind = "concentration" if by_concentration else "conductivity"
    second = has(rows, "second_conductivity") and not by_concentration
    return dilution.gulp(
        time_s=numbers(rows, "time_s"),
        trace=numbers(rows, kind),
        kind=kind,
        mass_g=mass_g,
        volume_l=volume_l,
        concentration_mg_l=concentration_mg_l,
        factor=factor,
        factor_uncertainty_pct=factor_pct,
        background=background,
        background_end=background_end,
        second_trace=numbers(rows, "second_conductivity") if second else None,
    )


def constant_rate_text(
    *,
    injection_l_s: float,
    injected: float,
    plateau: str,
    background: float | None = None,
    background_end: float | None = None,
) -> Gauging:
    """Gauge by constant rate from an injection in L/s and plateau readings."""
    return dilution_constant.constant_rate(
        injection_m3s=injection_l_s * _LITRE,
        injected=injected,
        plateau=number_list("plateau", plateau),
        background=background,
        background_end=background_end,
    )


def judged(
    gauging: Gauging, *, rating_l_s: float | None, rating_pct: float | None, tolerance_pct: float
) -> dict[str, object]:
    """Return a gauging as plain values, L/s beside SI; with a verdict where a rating is given."""
    said = gauging.as_dict()
    said["discharge_l_s"] = gauging.discharge_m3s / _LITRE
    if rating_l_s is not None:
        if rating_pct is None:
            raise BadInput("rating_pct", "none", "a verdict needs the rating's uncertainty",
                           "Give it, expanded, in %.")  # fmt: skip
        said["verdict"] = gaugings.verdict(
            discharge_m3s=gauging.discharge_m3s,
            uncertainty_pct=gauging.uncertainty_pct,
            rating_m3s=rating_l_s * _LITRE,
            rating_uncertainty_pct=rating_pct,
            tolerance_pct=tolerance_pct,
            indication_only=gauging.indication_only,
        ).as_dict()
    return said


def fit_file(
    path: Path,
    *,
    cease_to_flow_m: float | None = None,
    exponent: float | None = None,
    breaks_m: Sequence[float] = (),
    prior: tuple[float, float] | None = None,
) -> dict[str, object]:
    """Fit a rating to a file with head_m, discharge_m3s and, where known, uncertainty_pct.

    The answer holds the segments, their intervals, the bands at the gauged heads, and each
    gauging's residual with the word inspect or query where it stands out. Nothing is removed.
    """
    rows = read_table(path, _GAUGINGS)
    heads = numbers(rows, "head_m")
    flows = numbers(rows, "discharge_m3s")
    spread = numbers(rows, "uncertainty_pct") if has(rows, "uncertainty_pct") else None
    fit = fitting.fit_rating(
        heads,
        flows,
        spread,
        cease_to_flow_m=cease_to_flow_m,
        exponent=exponent,
        breaks_m=breaks_m,
        exponent_prior=prior,
    )
    bands = fit.bands(heads).as_dict()
    words = {0: "", 2: "inspect", 3: "query"}
    segments = fit.segments()
    drawn: tuple[Any, ...] = (
        heads, flows, bands["discharge_m3s"], fit.residual_pct.tolist(),
        bands["mean_pct"], bands["single_pct"], fit.outliers,
    )  # fmt: skip
    return {
        "coefficient": float(fit.coefficients[0]),
        "exponent": float(fit.exponents[0]),
        "cease_to_flow_m": fit.cease_to_flow_m,
        "intervals": {name: list(pair) for name, pair in fit.intervals.items()},
        "confidence": fit.confidence,
        "scatter_pct": fit.as_dict()["scatter_pct"],
        "degrees_of_freedom": fit.degrees,
        "gaugings_used": len(heads),
        "segments": segments,
        "segments_text": "; ".join(
            ",".join(f"{value:.10g}" for value in (
                each["coefficient"], each["exponent"], each["cease_to_flow_m"],
                each["h_lo_m"], each["h_hi_m"]))
            for each in segments
        ),
        "gaugings": [
            {"head_m": h, "discharge_m3s": q, "fitted_m3s": f, "residual_pct": r,
             "mean_band_pct": m, "single_band_pct": s, "word": words[int(o)]}
            for h, q, f, r, m, s, o in zip(*drawn, strict=True)
        ],
        "flags": list(fit.flags),
    }  # fmt: skip
