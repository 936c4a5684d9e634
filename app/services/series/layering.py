"""Corrections as the maths takes them: as they are stored, and cut to a range."""

import numpy as np

from app.hydraulics.series.layers import Layer, Shape
from app.records.sensors import CorrectionLayer


def layer_of(row: CorrectionLayer) -> Layer:
    """Return a stored correction as the maths takes it."""

    def figure(value: float | None) -> float:
        return float("nan") if value is None else value

    return Layer(
        Shape(row.shape),
        row.from_s,
        row.to_s,
        figure(row.amount),
        figure(row.amount_end),
        row.at_s,
    )


def within(layer: Layer, from_s: int, to_s: int) -> Layer:
    """Keep a long estimate from laying points far outside the range; its line stays the same."""
    if layer.shape is not Shape.ESTIMATED or not np.isfinite(layer.amount):
        return layer
    step = 900  # the spacing of `apply_layers`: cut on its own grid, so points fall the same
    begin = layer.from_s + max(0, (from_s - layer.from_s) // step * step)
    end = layer.to_s
    if to_s < layer.to_s:
        end = min(layer.to_s, layer.from_s + -(-(to_s - layer.from_s) // step) * step)
    span = max(layer.to_s - layer.from_s, 1)
    rise = layer.amount_end - layer.amount

    def at(t: int) -> float:
        return layer.amount + rise * (t - layer.from_s) / span

    return Layer(layer.shape, begin, end, at(begin), at(end), layer.at_s)
