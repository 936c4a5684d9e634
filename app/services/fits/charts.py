"""A fit as a chart and as lists: gaugings with their residuals, bands at round heads."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from app.language import words
from app.language.tables import Column, Table
from app.services.fits.candidates import Fitted, Row
from app.services.fits.test_charts import M_TO_MM, axis, band, figures, flow_unit, line, reach
from app.services.ratings.curve import curve_at, device_or_none, round_heads

NODES = 120

ROW_COLUMNS = (
    Column("gauging_id", "Check gauging"),
    Column("start_utc", "Start, UTC"),
    Column("method", "Method"),
    Column("head_mean_m", "Mean head, m over crest"),
    Column("discharge_m3s", "Gauged, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("fitted_m3s", "Fitted, m3/s"),
    Column("residual_pct", "Deviation from the fit, %"),
    Column("outlier", "Pointed at"),
    Column("used", "In the fit"),
    Column("why_not", "Why not"),
)
BAND_COLUMNS = (
    Column("head_m", "Head over the crest, m"),
    Column("discharge_m3s", "Fitted, m3/s"),
    Column("mean_pct", "Band of the mean, %, 95 %"),
    Column("single_pct", "Band of a single gauging, %, 95 %"),
    Column("rating_m3s", "Rating in force, m3/s"),
    Column("rating_uncertainty_pct", "Its uncertainty, %, k=2"),
    Column("change_pct", "Fit against the rating, %"),
)


@dataclass(frozen=True)
class BandRow:
    """The fit at one head, with both bands, and the newest rating beside it."""

    head_m: float
    discharge_m3s: float
    mean_pct: float
    single_pct: float
    rating_m3s: float | None
    rating_uncertainty_pct: float | None

    @property
    def change_pct(self) -> float | None:
        if not self.rating_m3s:
            return None
        return 100.0 * (self.discharge_m3s / self.rating_m3s - 1.0)


def band_rows(found: Fitted) -> list[BandRow]:
    """Return the fit with its bands at round heads within the gauged ones."""
    fit = found.fit
    if fit is None:
        return []
    heads = np.array(round_heads(fit.head_min_m, fit.head_max_m) or [fit.head_max_m])
    said = fit.bands(heads)
    device = device_or_none(found.current)
    rated: list[tuple[float | None, float | None]] = [(None, None)] * len(heads)
    if device is not None:
        curve = curve_at(device, found.structure, heads)
        rated = list(zip(figures(curve.discharge_m3s), figures(curve.uncertainty_pct), strict=True))
    return [
        BandRow(float(h), float(q), float(mean), float(single), *beside)
        for h, q, mean, single, beside in zip(
            heads, said.discharge_m3s, said.mean_pct, said.single_pct, rated, strict=True
        )
    ]


def charts(found: Fitted, *, log: bool) -> dict[str, Any]:
    """Return the chart of a fit: both bands, the gaugings in and out, the rating beside it."""
    answer: dict[str, Any] = {"utc_offset_min": found.site.utc_offset_min}
    rows = [r for r in found.rows if not r.candidate.unfit]
    if not rows:
        return answer
    known = [r.candidate.one.head_mean_m or 0.0 for r in rows]
    fit = found.fit
    floor = max(fit.cease_to_flow_m if fit else 0.0, 0.0) + 0.001
    heads = np.geomspace(max(0.9 * min(known), floor), max(1.08 * max(known), 2 * floor), NODES)
    flows = [r.candidate.one.discharge_m3s or 0.0 for r in rows]
    unit, scale = flow_unit(max(flows))
    lines, bands = [], []
    tops: list[float | None] = [q * scale for q in flows]
    device = device_or_none(found.current)
    if device is not None:
        q = curve_at(device, found.structure, heads).discharge_m3s * scale
        lines.append(line(heads, q, "rating in force", "dashed"))
        tops += figures(q)
    if fit is not None:
        said = fit.bands(heads)
        for low, high, name, shade in (
            (said.single_low_m3s, said.single_high_m3s, "a single gauging, 95 %", "faint"),
            (said.mean_low_m3s, said.mean_high_m3s, "the mean, 95 %", "soft"),
        ):
            if np.isfinite(low).any():
                bands.append(band(heads * M_TO_MM, low * scale, high * scale, name, shade))
        lines.append(line(heads, said.discharge_m3s * scale, "fit"))
        tops += figures(said.discharge_m3s * scale)
    points = sorted((mark(r, found, scale) for r in rows), key=lambda p: p["x"])
    tops += [p["high"] for p in points]
    breaks = [{"x": float(b) * M_TO_MM, "name": "break"} for b in fit.breaks_m] if fit else []
    answer["fit"] = {
        "x": axis("Head over the crest, mm", *reach(figures(heads * M_TO_MM), log=log), log=log),
        "y": axis(f"Discharge, {unit}", *reach(tops, log=log), log=log),
        "bands": bands,
        "lines": lines,
        "points": points,
        "uprights": breaks,
    }
    return answer


def mark(row: Row, found: Fitted, scale: float) -> dict[str, Any]:
    one = row.candidate.one
    value = (one.discharge_m3s or 0.0) * scale
    off = value * (one.uncertainty_pct or 0.0) / 100.0
    said = [
        words.site_time(one.started_at, found.site.utc_offset_min),
        one.method,
        f"head {words.millimetres(one.head_mean_m)}",
        f"gauged {words.discharge(one.discharge_m3s, one.uncertainty_pct)}",
    ]
    if row.residual_pct is not None:
        said.append(f"{row.residual_pct:+.1f} % of the fit")
    said.append(f"left out: {row.why}" if row.out else row.outlier or "in the fit")
    return {
        "x": (one.head_mean_m or 0.0) * M_TO_MM,
        "y": value,
        "low": value - off,
        "high": value + off,
        "mark": "not counted" if row.out else row.outlier or "in the fit",
        "text": " · ".join(said),
        "href": f"/check-gaugings/{one.entry.id}",
    }


def rows_table(found: Fitted) -> Table:
    rows = [
        {
            "gauging_id": row.candidate.one.entry.id,
            "start_utc": row.candidate.one.started_at,
            "method": row.candidate.one.method,
            "head_mean_m": row.candidate.one.head_mean_m,
            "discharge_m3s": row.candidate.one.discharge_m3s,
            "uncertainty_pct": row.candidate.one.uncertainty_pct,
            "fitted_m3s": row.fitted_m3s,
            "residual_pct": row.residual_pct,
            "outlier": row.outlier,
            "used": row.used,
            "why_not": row.candidate.unfit or (row.why if row.out else ""),
        }
        for row in found.rows
    ]
    return Table(f"fit-{found.site.code}-{found.structure.id}", ROW_COLUMNS, rows)


def bands_table(found: Fitted) -> Table:
    rows = [
        {
            "head_m": row.head_m,
            "discharge_m3s": row.discharge_m3s,
            "mean_pct": row.mean_pct,
            "single_pct": row.single_pct,
            "rating_m3s": row.rating_m3s,
            "rating_uncertainty_pct": row.rating_uncertainty_pct,
            "change_pct": row.change_pct,
        }
        for row in band_rows(found)
    ]
    return Table(f"fit-bands-{found.site.code}-{found.structure.id}", BAND_COLUMNS, rows)
