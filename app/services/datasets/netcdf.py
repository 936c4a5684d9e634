"""A series as NetCDF by the CF conventions, written month by month into a file of its own.

CF 1.8, chapter 9 and appendix H.2.4: discrete sampling geometry, feature type timeSeries, one
structure an instance, contiguous ragged arrays; flags as `flag_values`, `flag_masks` and
`flag_meanings` (3.5). The extra `netcdf`: h5netcdf.
"""

import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from sqlmodel import Session

from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.language.meanings import FIGURE_NOTES, QUALITY_MEANINGS
from app.records.sites import Site
from app.services.datasets.bundle import about_lines, provenance
from app.services.datasets.parts import seconds
from app.services.readings.list import Span
from app.services.record.blocks import SERIES_FIGURES, Block, blocks
from app.services.sites.register import structures_of

PIECE = 1 << 18
NAME_BYTES = 340  # 80 characters of four bytes, and an id
CALENDAR = {"units": "seconds since 1970-01-01 00:00:00", "calendar": "standard"}
FIGURE_WORDS = {
    "raw_m": ("head_raw", "head over crest as logged", "m"),
    "head_m": ("head", "head over crest, corrected", "m"),
    "tailwater_m": ("tailwater", "tailwater over crest, corrected", "m"),
    "discharge_m3s": ("discharge", "discharge", "m3 s-1"),
    "uncertainty_pct": ("discharge_uncertainty", "uncertainty of discharge, k=2", "percent"),
}
STANDARD_NAMES = {"discharge": "water_volume_transport_in_river_channel"}
FLAG_CODES = {flag_words(one)[0]: int(one) for one in Flag}
CODES = {
    "flow": {one.word: int(one) for one in Flow},
    "how": {one.word: int(one) for one in How},
    "quality": {word: code for code, word in enumerate(QUALITY_MEANINGS)},
    "out_of_date": {"follows what is in force": 0, "out of date": 1},
}
CODE_WORDS = {
    "flow": "state of flow",
    "how": "how the value came about",
    "quality": "how good the value is",
    "out_of_date": "whether what it was computed with still holds",
}


def netcdf(session: Session, site: Site, span: Span, at: datetime) -> Iterator[bytes]:
    """Yield the file; made on the disk first, because NetCDF-4 is written here and there."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "series.nc"
        _write(path, session, site, span, at)
        with path.open("rb") as file:
            while piece := file.read(PIECE):
                yield piece


def _write(path: Path, session: Session, site: Site, span: Span, at: datetime) -> None:
    import h5netcdf

    structures = structures_of(session, site.id or 0)
    named = [f"{one.id} {one.name}" for one in structures] or ["no structure"]
    with h5netcdf.File(path, "w") as file:
        file.attrs.update(_about(session, site, span, at))
        file.dimensions = {"structure": len(named), "name_length": NAME_BYTES, "obs": None}
        held = np.array([one.encode()[:NAME_BYTES] for one in named], dtype=f"S{NAME_BYTES}")
        letters = held.view("S1").reshape(-1, NAME_BYTES)
        role = file.create_variable("structure", ("structure", "name_length"), "S1", data=letters)
        role.attrs.update({"cf_role": "timeseries_id", "long_name": "id and name of structure"})
        for name, value, units in (
            ("lat", site.latitude, "degrees_north"),
            ("lon", site.longitude, "degrees_east"),
        ):
            value = np.nan if value is None else value
            where = np.full(len(named), value)
            place = file.create_variable(name, ("structure",), "f8", data=where, fillvalue=np.nan)
            standard = {"lat": "latitude", "lon": "longitude"}[name]
            place.attrs.update({"standard_name": standard, "units": units})
        _variables(file)
        begin, end = seconds(span)
        sizes, written = [], 0
        for structure in structures:
            before = written
            for block in blocks(session, structure.id or 0, begin, end):
                written = _append(file, block, written)
            sizes.append(written - before)
        size = file.create_variable(
            "row_size", ("structure",), "i4", data=np.array(sizes or [0], np.int32)
        )
        size.attrs.update({"long_name": "points of this structure", "sample_dimension": "obs"})


def _about(session: Session, site: Site, span: Span, at: datetime) -> dict[str, Any]:
    known = provenance(session, site, span, at)
    lines = about_lines(known)
    return {
        "Conventions": "CF-1.8",
        "featureType": "timeSeries",
        "title": lines[0].replace("\x00", ""),
        "institution": known["organisation"],
        "license": known["licence"],
        "source": "water levels of a logger, rated through a measuring structure",
        "history": f"{known['made_at']} made by {known['made_by']}",
        "comment": " ".join([*lines[1:3], *(f"{a}: {b}" for a, b in FIGURE_NOTES.items())]),
    }


def _variables(file: Any) -> None:
    chunks, more = (8192,), {"compression": "gzip", "compression_opts": 4}
    time = file.create_variable("time", ("obs",), "f8", chunks=chunks, **more)
    time.attrs.update({"standard_name": "time", "long_name": "instant, UTC", **CALENDAR})
    for name, words, units in FIGURE_WORDS.values():
        one = file.create_variable(name, ("obs",), "f8", chunks=chunks, fillvalue=np.nan, **more)
        one.attrs.update({"long_name": words, "units": units, "coordinates": "time lat lon"})
        if name in STANDARD_NAMES:
            one.attrs["standard_name"] = STANDARD_NAMES[name]
            one.attrs["ancillary_variables"] = "discharge_uncertainty flow flags how quality"
            one.attrs["cell_methods"] = "time: point"
    for name, codes in CODES.items():
        one = file.create_variable(name, ("obs",), "i1", chunks=chunks, **more)
        one.attrs.update(
            {
                "long_name": CODE_WORDS[name],
                "flag_values": np.array(list(codes.values()), np.int8),
                "flag_meanings": meanings(codes),
            }
        )
    flags = file.create_variable("flags", ("obs",), "i4", chunks=chunks, **more)
    flags.attrs.update(
        {
            "long_name": "what must be known beside the figure",
            "flag_masks": np.array(list(FLAG_CODES.values()), np.int32),
            "flag_meanings": meanings(FLAG_CODES),
        }
    )
    for name in ("rating_id", "gauge_zero_id"):
        one = file.create_variable(name, ("obs",), "i4", chunks=chunks, fillvalue=-1, **more)
        one.attrs["long_name"] = f"{name.removesuffix('_id').replace('_', ' ')} cited, -1 for none"


def meanings(codes: Any) -> str:
    """Return words as CF writes them: one each, without a space in it."""
    kept = [word.replace(",", "").replace(":", "").replace("%", "per cent") for word in codes]
    return " ".join(word.replace(" ", "_") for word in kept)


def _append(file: Any, block: Block, written: int) -> int:
    """Write a block behind what is there; return how many points there are now."""
    end = written + block.t_s.size
    file.resize_dimension("obs", end)
    columns: dict[str, Any] = {"time": block.t_s}
    columns |= {FIGURE_WORDS[name][0]: block.figures[name] for name in SERIES_FIGURES}
    old = [1 if words else 0 for words in block.values("stale")]
    columns["out_of_date"] = np.array(old, np.int8)[block.which]
    for name, key in (("flow", "flow"), ("how", "how"), ("quality", "quality_word")):
        codes = [CODES[name][word] for word in block.values(key)]
        columns[name] = np.array(codes, np.int8)[block.which]
    flags = [sum(FLAG_CODES[word] for word in words) for words in block.values("flags")]
    columns["flags"] = np.array(flags, np.int32)[block.which]
    for name in ("rating_id", "gauge_zero_id"):
        ids = [-1 if one is None else one for one in block.values(name)]
        columns[name] = np.array(ids, np.int32)[block.which]
    for name, values in columns.items():
        file.variables[name][written:end] = values
    return end
