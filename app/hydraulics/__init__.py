"""Floor 0: the hydraulics of measuring flumes and weirs; numpy in, numpy out.

No clock, file, database or request reaches this floor. Lengths are metres, discharges m3/s,
uncertainties expanded (k = 2, about 95 %) and in per cent unless a name says otherwise.
"""
