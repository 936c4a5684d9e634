"""What somebody asks to take out: which tables, in which format, of which days."""

from dataclasses import dataclass
from importlib.util import find_spec

from app.errors import BadInput

WHATS = {
    "readings": "Head readings",
    "series": "The long record",
    "daily": "Daily flow",
    "gaugings": "Check gaugings",
    "ratings": "Ratings",
    "sites": "Sites with their last state",
    "everything": "Everything of the site",
}
ALL_TABLES = ("readings", "series", "daily", "gaugings", "ratings", "sites", "everything")


@dataclass(frozen=True, kw_only=True)
class Form:
    """A format: its words, the ending of its file, its media type, and what it can hold."""

    words: str
    ending: str
    media_type: str
    holds: tuple[str, ...]
    zipped: tuple[str, ...] = ()  # what comes as a zip of several files
    needs: str = ""  # a package of an extra of the same name as the format

    def suffix(self, what: str) -> str:
        """Return the ending of the file that is sent."""
        return "zip" if what in self.zipped else self.ending


FORMS = {
    "csv": Form(
        words="CSV with a description",
        ending="csv",
        media_type="text/csv; charset=utf-8",
        holds=ALL_TABLES,
        zipped=ALL_TABLES,
    ),
    "json": Form(
        words="JSON",
        ending="json",
        media_type="application/json",
        holds=ALL_TABLES,
        zipped=ALL_TABLES,
    ),
    "waterml": Form(
        words="WaterML 2.0",
        ending="xml",
        media_type="application/gml+xml; version=3.2",
        holds=("series", "daily"),
    ),
    "geojson": Form(
        words="GeoJSON",
        ending="geojson",
        media_type="application/geo+json",
        holds=("sites",),
    ),
    "parquet": Form(
        words="Parquet, by site and water year",
        ending="zip",
        media_type="application/zip",
        holds=("series", "readings"),
        zipped=("series", "readings"),
        needs="pyarrow",
    ),
    "netcdf": Form(
        words="NetCDF, CF conventions",
        ending="nc",
        media_type="application/x-netcdf",
        holds=("series",),
        needs="h5netcdf",
    ),
}


def form_for(format_key: str, what: str) -> Form:
    """Return the format, where it can hold what is asked and is installed; raises BadInput."""
    if what not in WHATS:
        raise BadInput("what", what[:40], "not one of the choices", f"One of: {', '.join(WHATS)}.")
    form = FORMS.get(format_key)
    if form is None:
        raise BadInput(
            "format", format_key[:40], "not one of the formats", f"One of: {', '.join(FORMS)}."
        )
    if what not in form.holds:
        able = [key for key, one in FORMS.items() if what in one.holds]
        raise BadInput(
            "format",
            format_key,
            f"{form.words} cannot hold {WHATS[what].lower()}",
            f"Take {what} as {' or '.join(able)}; {format_key} holds {' and '.join(form.holds)}.",
        )
    if form.needs and find_spec(form.needs) is None:
        raise BadInput(
            "format",
            format_key,
            f"{form.words} needs the package {form.needs}, which is not installed",
            f"On the office's computer: pip install sillbook[{format_key}]",
        )
    return form
