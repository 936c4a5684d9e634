"""Sizes of Parshall flumes: free flow, range, two published onsets of drowning, drowned shape."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Size:
    """One size: free flow in SI, two published onsets of drowning, drowned shape in US units."""

    width_m: float
    C: float
    n: float
    head_min_m: float
    head_max_m: float
    limit_by_class: float
    limit_by_test: float
    C1_us: float
    n1: float
    n2: float


_Row = tuple[float, float, float, float, float, float, float, float, float, float]

# width, C, n, ha min, ha max: Bos (ed.) 1989, ILRI Publ. 20, sec. 7.4. First limit: Bos / USBR
# by class; second limit and C1, n1, n2: Skogerboe et al. 1967 (US units). From memory, except
# 2 ft: C 1.429, n 1.55 and 0.66 read in Utah State Univ. BIE 5300/6300 lecture 2 (2005).
# 6 in: ha max 0.457 m (0.45 as tabulated does not give its own largest discharge).
_US_ROWS: dict[str, _Row] = {
    "1in": (0.0254, 0.0604, 1.55, 0.015, 0.21, 0.50, 0.56, 0.299, 1.55, 1.000),
    "2in": (0.0508, 0.1207, 1.55, 0.015, 0.24, 0.50, 0.61, 0.612, 1.55, 1.000),
    "3in": (0.0762, 0.1771, 1.55, 0.03, 0.33, 0.50, 0.64, 0.915, 1.55, 1.000),
    "6in": (0.1524, 0.3812, 1.58, 0.03, 0.457, 0.60, 0.55, 1.66, 1.58, 1.080),
    "9in": (0.2286, 0.5354, 1.53, 0.03, 0.61, 0.60, 0.63, 2.51, 1.53, 1.060),
    "1ft": (0.3048, 0.6909, 1.522, 0.03, 0.76, 0.70, 0.62, 3.11, 1.52, 1.080),
    "1.5ft": (0.4572, 1.056, 1.538, 0.03, 0.76, 0.70, 0.64, 4.42, 1.54, 1.115),
    "2ft": (0.6096, 1.429, 1.550, 0.046, 0.76, 0.70, 0.66, 5.94, 1.55, 1.140),
    "3ft": (0.9144, 2.184, 1.566, 0.046, 0.76, 0.70, 0.68, 8.60, 1.57, 1.160),
    "4ft": (1.2192, 2.953, 1.578, 0.06, 0.76, 0.70, 0.70, 11.10, 1.58, 1.185),
    "5ft": (1.5240, 3.732, 1.587, 0.076, 0.76, 0.70, 0.72, 13.55, 1.59, 1.205),
    "6ft": (1.8288, 4.519, 1.595, 0.076, 0.76, 0.70, 0.74, 15.85, 1.60, 1.230),
    "7ft": (2.1336, 5.312, 1.601, 0.076, 0.76, 0.70, 0.76, 18.15, 1.60, 1.250),
    "8ft": (2.4384, 6.112, 1.607, 0.076, 0.76, 0.70, 0.78, 20.40, 1.60, 1.265),
    "10ft": (3.048, 7.463, 1.6, 0.09, 1.07, 0.80, 0.80, 24.79, 1.59, 1.275),
    "12ft": (3.658, 8.859, 1.6, 0.09, 1.37, 0.80, 0.80, 29.34, 1.59, 1.275),
    "15ft": (4.572, 10.96, 1.6, 0.09, 1.67, 0.80, 0.80, 36.17, 1.59, 1.275),
    "20ft": (6.096, 14.45, 1.6, 0.09, 1.83, 0.80, 0.80, 47.56, 1.59, 1.275),
    "25ft": (7.620, 17.94, 1.6, 0.09, 1.83, 0.80, 0.80, 58.95, 1.59, 1.275),
    "30ft": (9.144, 21.44, 1.6, 0.09, 1.83, 0.80, 0.80, 70.34, 1.59, 1.275),
    "40ft": (12.192, 28.43, 1.6, 0.09, 1.83, 0.80, 0.80, 93.11, 1.59, 1.275),
    "50ft": (15.240, 35.41, 1.6, 0.09, 1.83, 0.80, 0.80, 115.89, 1.59, 1.275),
}


def _us_size(row: _Row) -> Size:
    width, C, n, low, high, by_class, by_test, C1_us, n1, n2 = row
    return Size(
        width_m=width,
        C=C,
        n=n,
        head_min_m=low,
        head_max_m=high,
        limit_by_class=by_class,
        limit_by_test=by_test,
        C1_us=C1_us,
        n1=n1,
        n2=n2,
    )


US_SIZES = {name: _us_size(row) for name, row in _US_ROWS.items()}

# ISO 9826:1992 Table 3, width: C, n; read in a public table quoting CJ/T 3008.3-1993.
_ISO_CN = {
    0.25: (0.561, 1.513),
    0.30: (0.679, 1.521),
    0.45: (1.038, 1.537),
    0.60: (1.403, 1.548),
    0.75: (1.772, 1.557),
    0.90: (2.147, 1.565),
    1.00: (2.397, 1.569),
    1.20: (2.904, 1.577),
    1.50: (3.668, 1.586),
    1.80: (4.440, 1.593),
    2.10: (5.222, 1.599),
    2.40: (6.004, 1.605),
}


# Head ranges, m, of the same public table; the three narrower sizes are not in what was read.
_ISO_HEADS = {
    0.60: (0.05, 0.75),
    0.75: (0.06, 0.75),
    0.90: (0.06, 0.75),
    1.00: (0.06, 0.80),
    1.20: (0.06, 0.80),
    1.50: (0.06, 0.80),
    1.80: (0.08, 0.80),
    2.10: (0.08, 0.80),
    2.40: (0.08, 0.80),
}
ISO_RANGE_READ = frozenset(f"{width:.2f}m" for width in _ISO_HEADS)


def _metric_size(width_m: float, C: float, n: float) -> Size:
    """Give a metric size the drowned shape, and where none was read the range, of the nearest."""
    near = min(US_SIZES.values(), key=lambda size: abs(np.log(size.width_m / width_m)))
    low, high = _ISO_HEADS.get(width_m, (near.head_min_m, near.head_max_m))
    return Size(
        width_m=width_m,
        C=C,
        n=n,
        head_min_m=low,
        head_max_m=high,
        limit_by_class=near.limit_by_class,
        limit_by_test=near.limit_by_test,
        C1_us=near.C1_us * width_m / near.width_m,
        n1=near.n1,
        n2=near.n2,
    )


ISO_SIZES: dict[str, Size] = {
    f"{width:.2f}m": _metric_size(width, C, n) for width, (C, n) in _ISO_CN.items()
}
SIZES = US_SIZES | ISO_SIZES
