"""The steps from staff readings to a discharge, as a person can follow them on paper."""

import math
from dataclasses import dataclass

from app.hydraulics.rating.rate import Rated
from app.hydraulics.rating.submergence import UNKNOWN_LIMIT_SUBMERGENCE
from app.hydraulics.structure.device import Device, Flow
from app.language import words
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import GaugeZero, Structure
from app.services.readings.list import OCCASIONS
from app.services.readings.observed import Observed

# Intermediate values a device may report, as people read them.
DETAIL_WORDS = {
    "coefficient": ("Coefficient", "{:.4g}"),
    "velocity_coefficient": ("Coefficient of approach velocity", "{:.4f}"),
    "total_head_m": ("Total head", "{:.4f} m"),
    "froude": ("Froude number of the approach", "{:.3f}"),
    "critical_depth_m": ("Critical depth", "{:.4f} m"),
    "approach_velocity_m_s": ("Approach velocity", "{:.3f} m/s"),
}


@dataclass(frozen=True)
class Step:
    """One step of the computation: what, how, the result, and where it comes from."""

    title: str
    working: str
    result: str
    source: str


def steps_of(
    entry: Entry,
    structure: Structure,
    zero: GaugeZero,
    *,
    value: FlowValue,
    device: Device,
    seen: Observed,
    result: Rated,
) -> list[Step]:
    """Return the steps from staff readings to discharge."""
    return [
        *head_steps(entry, structure, zero, seen),
        *tail_steps(entry, zero, seen, device, result),
        *flow_steps(device, seen, result, value),
    ]


def head_steps(entry: Entry, structure: Structure, zero: GaugeZero, seen: Observed) -> list[Step]:
    staff = entry.body["staff_m"]
    mean = seen.head_m - zero.offset_m
    listed = ", ".join(f"{value:.4f}" for value in staff)
    several = len(staff) > 1
    steps = [
        Step(
            "Staff reading",
            f"mean of {listed} m, range {words.millimetres(max(staff) - min(staff))}"
            if several
            else "one reading",
            words.metres(mean),
            "as read, occasion " + OCCASIONS[entry.body.get("occasion", "during")],
        ),
        Step(
            "Zero offset",
            f"gauge zero {zero.zero_rl_m:.4f} m − crest {zero.crest_rl_m:.4f} m",
            words.metres(zero.offset_m),
            f"gauge zero {zero.id}: {zero.reason}",
        ),
        Step(
            "Head over the crest",
            plus(mean, zero.offset_m),
            words.metres(seen.head_m),
            "definition",
        ),
    ]
    own = structure.head_uncertainty_m
    kept = seen.head_uncertainty_m
    working = f"{words.millimetres(own)} for gauge zero and reading, k = 2"
    if several:
        working += ", with twice the standard error of the repeats, added in squares"
    if not several and not math.isclose(own, kept, rel_tol=1e-9):
        working += f" now; {words.millimetres(kept)} when this was rated"
    steps.append(
        Step("Uncertainty of the head", working, f"± {words.millimetres(kept)}", "common practice")
    )
    return steps


def plus(staff_m: float, offset_m: float) -> str:
    return f"{staff_m:.4f} m {'−' if offset_m < 0 else '+'} {abs(offset_m):.4f} m"


def tail_steps(
    entry: Entry, zero: GaugeZero, seen: Observed, device: Device, result: Rated
) -> list[Step]:
    if not device.can_drown:
        said = str(device.dims.get("cannot_drown", "a tailwater does not act here"))
        word = words.flow_word(int(result.flow[0]))
        return [Step("Tailwater", f"cannot drown: {said}", word, "as stated with the rating")]
    tail = entry.body.get("tailwater") or {}
    if tail.get("state") == "clearly_free":
        return [Step("Tailwater", "a free drop was seen", "free", "as seen")]
    if math.isnan(seen.tailwater_m):
        return [Step("Tailwater", "not seen: free flow is assumed", "assumed free", "as recorded")]
    limit = float(device.modular_limit(result.head_m)[0])
    ratio = float(result.submergence_ratio[0])
    return [
        Step(
            "Tailwater over the crest",
            plus(float(tail["staff_m"]), zero.tail_offset_m),
            words.metres(seen.tailwater_m),
            "as read",
        ),
        Step(
            "Submergence ratio",
            "tailwater over head, both above the crest",
            words.ratio(ratio),
            "not formed at or below the crest" if math.isnan(ratio) else "definition",
        ),
        Step(
            "Modular limit",
            f"nobody knows the limit: up to {UNKNOWN_LIMIT_SUBMERGENCE:.2f} assumed free"
            if math.isnan(limit)
            else f"{ratio:.2f} is {'above' if ratio > limit else 'not above'} {limit:.2f}",
            words.flow_word(int(result.flow[0])),
            "common practice" if math.isnan(limit) else "the lowest of the limits known",
        ),
    ]


def flow_steps(device: Device, seen: Observed, result: Rated, value: FlowValue) -> list[Step]:
    first = device.sources[0]
    source = f"{first.text} ({first.provenance})"
    steps = []
    for key, (title, pattern) in DETAIL_WORDS.items():
        if key in result.detail and math.isfinite(figure := float(result.detail[key][0])):
            steps.append(Step(title, "at this head", pattern.format(figure), source))
    free = result.detail.get("free_discharge_m3s", result.discharge_m3s)
    free_m3s = float(free[0])
    discharge = float(result.discharge_m3s[0])
    drowned = int(result.flow[0]) in (Flow.SUBMERGED_CORRECTED, Flow.SUBMERGED_UNDETERMINED)
    if drowned and math.isfinite(free_m3s):
        steps.append(
            Step(
                "Discharge if it were free, an upper bound",
                f"rating at a head of {words.metres(seen.head_m)}",
                f"{free_m3s:.6g} m³/s",
                source,
            )
        )
    if int(result.flow[0]) == Flow.SUBMERGED_CORRECTED and free_m3s > 0:
        steps.append(
            Step(
                "Factor for drowned flow",
                f"at a submergence of {float(result.submergence_ratio[0]):.3f}",
                f"{discharge / free_m3s:.4f}",
                next(
                    (f"{s.text} ({s.provenance})" for s in device.sources if "rowned" in s.text),
                    source,
                ),
            )
        )
    how = f"rating at a head of {words.metres(seen.head_m)}"
    if int(result.flow[0]) == Flow.SUBMERGED_CORRECTED:
        how = "free discharge × factor"
    steps.append(
        Step(
            "Discharge",
            how,
            f"{discharge:.6g} m³/s" if math.isfinite(discharge) else "not determined",
            source,
        )
    )
    if value.uncertainty_pct is not None and discharge > 0:
        listed = ", ".join(f"{name} {pct:.1f} %" for name, pct in parts_of(result, value))
        steps.append(
            Step(
                "Uncertainty of the discharge",
                f"{listed}: root of the sum of squares",
                f"± {words.percent(float(result.uncertainty_pct[0]))}, k = 2",
                "form of ISO 4359 and the GUM (ISO/IEC Guide 98-3)",
            )
        )
    return steps


def parts_of(result: Rated, value: FlowValue) -> list[tuple[str, float]]:
    """Return the parts of the uncertainty, %, the ones that are nothing left out."""
    if value.discharge_m3s is None or value.flow == Flow.NO_FLOW:
        return []
    listed = [(name, float(part[0])) for name, part in result.parts.items()]
    return [(name, pct) for name, pct in listed if math.isfinite(pct) and pct > 0.0]
