"""Where the figures of long-throated flumes by ISO 4359 come from."""

from app.hydraulics.structure.device import Provenance, Source

READ = Source(
    "Morgenschweis 2010, Hydrometrie (Springer), eq. 5.19 after ISO 4359: rectangular CD and the "
    "limits h 0.05 to 2 m, b 0.10 m, h/b 3, area ratio 0.7",
    Provenance.READ,
)

METHOD = Source(
    "ISO 4359:2013, boundary-layer method, trapezoid and U, X_c, limits 0.05 L and Fr 0.5; "
    "Ackers et al. 1978",
    Provenance.MEMORY,
)

SHRUNK = Source(
    "CD by shrinking the section for all three shapes (closed forms differ by 0.1 to 0.2 %)",
    Provenance.DERIVED,
)

MODULAR_LIMIT = Source(
    "Modular limit: ISO 4359 rule (0.80 H1, 0.74 abrupt), Bos 1989 by ramp, and the energy method "
    "of Bos, Replogle & Clemmens 1984; the lowest is used",
    Provenance.MEMORY,
)

ISO_LIMITS_TEXT = (
    "ISO 4359: h from 0.05 m and 0.05 L to 2 m; h/L to 0.50, to 0.67 with 2 % added; {width}"
    "throat at most 0.7 of the approach area; approach Froude number at most 0.5. Free flow only: "
    "above the modular limit the discharge is not determined."
)
