"""Where the figures of Parshall flumes come from, and how well each source is known."""

from app.hydraulics.structure.device import Provenance, Source

BOS = Source(
    "Bos (ed.) 1989, Discharge Measurement Structures, ILRI Publ. 20, sec. 7.4: C, n, head "
    "ranges, modular limit by class (0.50 to 0.80)",
    Provenance.MEMORY,
)

ISO = Source(
    "ISO 9826:1992 Table 3: C and n of the twelve metric sizes, read in a public table quoting "
    "CJ/T 3008.3-1993",
    Provenance.READ,
)

ISO_RANGE = Source(
    "Head ranges of the metric sizes from 0.60 m, read in the same public table quoting "
    "CJ/T 3008.3-1993",
    Provenance.READ,
)

ISO_RANGE_BORROWED = Source(
    "Head range of 0.25, 0.30 and 0.45 m: that of the nearest size in feet (none read)",
    Provenance.DERIVED,
)

ISO_BORROWED = Source(
    "Modular limit and drowned shape of a metric size: those of the nearest size in feet (no "
    "published values found)",
    Provenance.DERIVED,
)

SKOGERBOE_FORM = Source(
    "Skogerboe, Hyatt, England & Johnson 1967, J. Irrig. Drain. Div. ASCE: form of the drowned "
    "equation and C2 = 0.0044, read in a water-management manual (vol. 13/16)",
    Provenance.READ,
)

SKOGERBOE = Source(
    "Skogerboe et al. 1967: C1, n1, n2 and onset of drowning of each size", Provenance.MEMORY
)

SCALED_SHAPE = Source(
    "Drowned equation scaled to equal free flow at its onset (removes a jump of up to 2.8 %)",
    Provenance.DERIVED,
)

BUILT = Source(
    "Free flow times built over named throat width, within 2 % of it (Q is proportional to W at "
    "one exponent)",
    Provenance.DERIVED,
)

LOSS = Source(
    "Parshall 1936 loss term, 1 to 8 ft, as in Bos 1989 and ISO 9826:1992; comparison only",
    Provenance.MEMORY,
)

READ_2FT = Source(
    "Utah State Univ. BIE 5300/6300 lecture 2 (2005), worked example for the 0.61 m flume: "
    "C 1.429, n 1.55, onset of drowning 0.66",
    Provenance.READ,
)
