"""The long section of a candidate: race floor, crest, water lines at three flows, banks.

Levels are to scale; lengths are not, because a pond is hundreds of times longer than deep.
"""

from typing import Any

from app.language.drawing import Drawing, spread

WIDE = (960.0, 470.0, 14.0)
NARROW = (360.0, 430.0, 13.0)
BARS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)


def draw(result: dict[str, Any], shown: dict[str, Any], *, wide: bool) -> Drawing:
    """Return the long section of one candidate of a plan, for a page or for a phone."""
    floor, tail_floor = result["floor_rl_m"], result["tail_floor_rl_m"]
    bank, weed = result["bank_rl_m"], result["weed_margin_m"]
    width, height, font = WIDE if wide else NARROW
    flows, crest = shown["flows"], shown["crest_rl_m"]
    key = f"section-{shown['number']}-{'wide' if wide else 'narrow'}"
    out = Drawing(
        key=key,
        width=width,
        height=height,
        title=f"Long section: {shown['described']}",
        font_px=font,
    )
    weedy = flows[-1]["tail_level_m"] + weed
    levels = [floor, tail_floor, crest, weedy, *([bank] if bank is not None else [])]
    levels += [f["upstream_level_m"] for f in flows] + [f["tail_level_m"] for f in flows]
    low, high = min(levels), max(levels)
    margin = 0.08 * (high - low)
    low, high = low - margin, high + margin
    top, bottom = 44.0, height - 34.0
    scale = (bottom - top) / (high - low)

    def y(level: float) -> float:
        return float(bottom - (level - low) * scale)

    label = 212.0 if wide else 104.0
    left, right = label, width - label
    face = left + 0.52 * (right - left)
    back = face + 0.12 * (right - left)
    out.line([(0, 0), (width, 0), (width, height), (0, height)], "paper", closed=True)
    unit = next((t for t in BARS if t * scale >= 24.0), BARS[-1])
    out.measure((22, height - 12), (22, height - 12 - unit * scale))
    out.text(32, height - 12 - 0.5 * unit * scale + 5, f"{unit:g} m")
    out.line([(left, y(floor)), (face, y(floor))], "floor")
    out.line([(back, y(tail_floor)), (right, y(tail_floor))], "floor")
    ground = max(y(floor), y(tail_floor))
    out.line(
        [(face, ground), (face, y(crest)), (back, y(crest)), (back, ground)], "crest", closed=True
    )
    out.line([(left, y(crest)), (face, y(crest))], "level")
    if bank is not None:
        out.line([(left, y(bank)), (right, y(bank))], "bank")
    ups: list[tuple[float, str]] = []
    downs: list[tuple[float, str]] = []
    for flow in flows:
        up, down = y(flow["upstream_level_m"]), y(flow["tail_level_m"])
        over = y(crest + 0.67 * flow["head_m"])  # near the critical depth of a wide crest
        out.line(
            [
                (left, up),
                (face - 0.06 * (right - left), up),
                (face, 0.5 * (up + over)),
                (back, max(over, min(down, over))),
                (back + 14, down),
                (right, down),
            ],
            "water",
        )
        litres = flow["discharge_m3s"] * 1000.0
        short = f"{litres:.3g} L/s"
        ups.append(
            (
                up,
                f"{flow['name']} {short}: {flow['upstream_level_m']:.3f}"
                if wide
                else f"{short} {flow['upstream_level_m']:.3f}",
            )
        )
        downs.append((down, f"tail at {short}: {flow['tail_level_m']:.3f}" if wide
                      else f"{short} {flow['tail_level_m']:.3f}"))  # fmt: skip
    out.line([(back, y(weedy)), (right, y(weedy))], "weed")
    downs.append((y(weedy), f"with weed: {weedy:.3f}" if wide else f"weed {weedy:.3f}"))
    downs.append(
        (y(tail_floor), f"tail floor {tail_floor:.3f}" if wide else f"bed {tail_floor:.3f}")
    )
    ups.append((y(floor), f"race floor {floor:.3f}" if wide else f"floor {floor:.3f}"))
    ups.append((y(crest), f"crest {crest:.3f}"))
    if bank is not None:
        ups.append((y(bank), f"lowest bank {bank:.3f}" if wide else f"bank {bank:.3f}"))
    _labels(out, ups, left, anchor="end", font=font, top=top, bottom=bottom)
    _labels(out, downs, right, anchor="start", font=font, top=top, bottom=bottom)
    if shown["crest_above_floor_m"] > 0.0005:
        out.measure((face - 20, y(floor)), (face - 20, y(crest)))
        out.text(face - 26, 0.5 * (y(floor) + y(crest)) + 5,
                 f"{shown['crest_above_floor_m'] * 1000:.0f} mm", "end")  # fmt: skip
    out.arrow(left + 60, top - 22, 46, "flow")
    out.text(
        width - 8,
        height - 10,
        "levels in m, to scale; lengths are not" if wide else "lengths not to scale",
        "end",
    )
    out.description = describe(shown, floor, tail_floor, bank, weedy)
    return out


def _labels(
    out: Drawing,
    marks: list[tuple[float, str]],
    x: float,
    *,
    anchor: str,
    font: float,
    top: float,
    bottom: float,
) -> None:
    side = -1.0 if anchor == "end" else 1.0
    places = spread([place for place, _ in marks], 1.25 * font, top, bottom)
    for (place, words), at in zip(marks, places, strict=True):
        out.line([(x, place), (x + side * 12, at)], "leader")
        out.text(x + side * 15, at + 0.35 * font, words, anchor)


def describe(
    shown: dict[str, Any], floor: float, tail_floor: float, bank: float | None, weedy: float
) -> str:
    """Return the drawing in words."""
    lines = "; ".join(
        f"at the {f['name']} flow of {f['discharge_m3s'] * 1000:.3g} L/s water upstream "
        f"{f['upstream_level_m']:.3f} m and tail {f['tail_level_m']:.3f} m"
        for f in shown["flows"]
    )
    banks = f"lowest bank {bank:.3f} m" if bank is not None else "bank not known"
    return (
        f"Long section with the flow from left to right. Race floor {floor:.3f} m, crest "
        f"{shown['crest_rl_m']:.3f} m, tail floor {tail_floor:.3f} m, {banks}; {lines}; "
        f"tail at the greatest flow with weed {weedy:.3f} m."
    )
