"""What leaves the record, read back by readers that know nothing of it.

CSV: `csvw` (W3C Recommendations of 17 December 2015). WaterML 2.0 part 1 (OGC 10-126r4): OWSLib's
reader, and the mapping that npm's `ogc-schemas` made of the OGC schemas. GeoJSON: `geojson`
(RFC 7946). Parquet: DuckDB and Dask. NetCDF: xarray, and `compliance-checker` for CF 1.8.
"""

import csv
import io
import json
import subprocess
import sys
import warnings
import zipfile
from collections.abc import Callable
from contextlib import nullcontext
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lxml import etree
from owslib.swe.observation.waterml2 import MeasurementTimeseriesObservation
from owslib.util import nspath_eval
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow
from app.language.meanings import (
    FLAG_MEANINGS,
    FLOW_MEANINGS,
    HOW_MEANINGS,
    QUALITY_MEANINGS,
    STATE_MEANINGS,
)
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.corrections import layers
from app.services.datasets import asked
from app.services.datasets.parts import COLUMNS_OF
from app.services.datasets.tables import codebook
from app.services.datasets.take import Wish, pieces
from app.services.datasets.waterml import SPACES
from app.services.days import daily
from app.services.series import read as series_read
from app.services.settings.known import known
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times
from tests.paths import ROOT

NAME = "Race & <weir> \x0b№1 ]]>"


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    """A fortnight with a new rating, a drowned stretch, a gap, no flow, a withdrawn correction."""
    made = a_bench(session, a_site, a_person)
    site = session.get(Site, made.site_id)
    site.name = NAME
    session.add(
        Rating(
            structure_id=made.id,
            valid_from=NOW.fromtimestamp(JULY + 9 * DAY, NOW.tzinfo),
            family="parshall",
            dims={"size": "2ft"},
            reason="a new throat",
        )
    )
    session.commit()
    t = times(14)
    head = calm(t)
    head[(t >= JULY + 2 * DAY) & (t < JULY + 3 * DAY)] = 0.0
    tail = np.where((t >= JULY + 5 * DAY) & (t < JULY + 6 * DAY), head * 0.99, 0.0)
    keep = (t <= JULY + 7 * DAY) | (t >= JULY + 8 * DAY)
    made.take(log_text(t[keep], head[keep], tail[keep]))
    form = made.layer("offset", JULY + 10 * DAY, JULY + 11 * DAY, amount="4")
    layer = layers.add_layer(session, made.id, form, made.person, NOW)
    layers.withdraw_layer(session, layer.id, "a slip", made.person, NOW)
    session.commit()
    return made


def taken(session: Session, what: str, format_key: str, site_id: int | None, **days: str) -> bytes:
    wish = Wish(what=what, format_key=format_key, site_id=site_id, **days).checked()
    return b"".join(pieces(nullcontext(session), wish, NOW))


def unpacked(content: bytes, place: Path) -> Path:
    with zipfile.ZipFile(io.BytesIO(content)) as whole:
        assert whole.testzip() is None
        whole.extractall(place)
    return place


def test_the_codebook_has_every_word_and_column() -> None:
    assert set(FLOW_MEANINGS) == set(Flow)
    assert set(FLAG_MEANINGS) == set(Flag)
    assert set(HOW_MEANINGS) == set(How)
    rows = codebook().rows
    told = {(row["of"], row["word"]) for row in rows}
    assert told >= {(what, one.key) for what, held in COLUMNS_OF.items() for one in held}
    assert all(row["meaning"] for row in rows)


def test_every_word_that_occurs_is_in_the_codebook(bench: Bench, tmp_path: Path) -> None:
    place = unpacked(taken(bench.session, "series", "csv", bench.site_id), tmp_path)
    with (place / f"series-{bench.id}.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {row["quality_word"] for row in rows} <= set(QUALITY_MEANINGS)
    assert {row["state"] for row in rows} <= set(STATE_MEANINGS)
    met = {row["flow"] for row in rows}
    assert met <= {one.word for one in Flow}
    assert "submerged, not determined" in met


def test_everything_is_read_by_a_general_reader(bench: Bench, tmp_path: Path) -> None:
    from csvw import CSVW

    place = unpacked(taken(bench.session, "everything", "csv", bench.site_id), tmp_path)
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        read = CSVW(str(place / "csv-metadata.json"), validate=True)
        held = {str(t.url): list(t.iterdicts(strict=True)) for t in read.tables}
    assert [str(one.message) for one in (*heard, *read.warnings)] == []
    assert {name.split(".")[0].rstrip("0123456789-") for name in held} == {
        one.replace(" ", "-") for one in (*COLUMNS_OF, "codebook")
    }
    flows = series_read.load(bench.session, bench.id)["discharge_m3s"]
    read_back = [row["discharge_m3s"] for row in held[f"series-{bench.id}.csv"]]
    assert np.array_equal(np.array(read_back, float), flows, equal_nan=True)
    assert [row["withdraw_reason"] for row in held[f"layers-{bench.id}.csv"]] == ["a slip"]
    group = json.loads((place / "csv-metadata.json").read_text("utf-8"))
    assert group["dc:rights"] == known("licence").default == "not stated"


def observations(content: bytes) -> list[MeasurementTimeseriesObservation]:
    root = etree.fromstring(content)
    found = root.findall(nspath_eval("wml2:observationMember/om:OM_Observation", SPACES))
    return [MeasurementTimeseriesObservation(one) for one in found]


def test_waterml_of_a_series_is_read_by_owslib(bench: Bench) -> None:
    """OWSLib 0.35, `owslib.swe.observation.waterml2`: values, times, units, interpolation, nils."""
    content = taken(bench.session, "series", "waterml", bench.site_id)
    read = observations(content)
    assert len(read) == 2, "a new rating begins another observation"
    held = series_read.load(bench.session, bench.id)
    points = [point for one in read for point in one.get_result()]
    values = np.array([p.value for p in points])
    assert np.array_equal(values, held["discharge_m3s"], equal_nan=True)
    assert [int(p.datetime.timestamp()) for p in points] == held["t_s"].tolist()
    for one in read:
        default = one.get_result().defaultTVPMetadata
        assert default.uom == "m3/s"
        assert default.interpolationType.endswith("/interpolationType/Continuous")
    root = etree.fromstring(content)
    assert set(root.xpath("//wml2:nilReason/@xlink:href", namespaces=SPACES)) == {
        "http://www.opengis.net/def/nil/OGC/0/unknown"
    }, "drowned, not missing"
    quality = set(root.xpath("//wml2:quality/@xlink:href", namespaces=SPACES))
    assert {one.rsplit("/")[-1] for one in quality} == {"unchecked", "missing"}
    comments = root.xpath("//wml2:ObservationProcess/wml2:comment/text()", namespaces=SPACES)
    assert sum("a new throat" in text for text in comments) == 1
    assert root.findtext(".//wml2:MonitoringPoint/gml:name", namespaces=SPACES) == NAME.replace(
        "\x0b", "\ufffd"
    )


def test_waterml_of_days_says_that_they_are_means(bench: Bench) -> None:
    content = taken(bench.session, "daily", "waterml", bench.site_id)
    read = observations(content)
    points = [point for one in read for point in one.get_result()]
    want = daily.daily(bench.session, bench.id)
    means = np.array([row["mean_m3s"] for row in want], float)
    assert np.array_equal(np.array([p.value for p in points]), means, equal_nan=True)
    offset = timedelta(hours=12)
    assert [(p.datetime + offset).date() for p in points] == [row["day"] for row in want]
    assert all(
        one.get_result().defaultTVPMetadata.interpolationType.endswith("/AverageSucc")
        for one in read
    )
    reasons = etree.fromstring(content).xpath("//wml2:nilReason/@xlink:href", namespaces=SPACES)
    words = [row["word"] for row in want if row["mean_m3s"] is None]
    assert set(words) == {"missing", "not determined"}
    told = {"missing": "missing", "not determined": "unknown"}
    assert [one.rsplit("/")[-1] for one in reasons] == [told[word] for word in words]


def test_geojson_is_valid_with_and_without_a_position(
    bench: Bench, a_site: Callable[..., Structure]
) -> None:
    import geojson

    bare = Site(code="BARE", name="No position, no structure")
    bench.session.add(bare)
    site = bench.session.get(Site, bench.site_id)
    site.latitude, site.longitude = -43.5, 172.25
    bench.session.commit()
    read = geojson.loads(taken(bench.session, "sites", "geojson", None))
    placed = {one["properties"]["code"]: one for one in read["features"]}
    assert placed[site.code].is_valid
    assert placed[site.code]["geometry"]["coordinates"] == [172.25, -43.5]
    assert placed[site.code]["properties"]["last_flow"] == "free"
    assert placed["BARE"]["geometry"] is None
    assert placed["BARE"]["properties"]["last_discharge_m3s"] is None


@pytest.mark.filterwarnings("ignore:The inplace keyword:DeprecationWarning")  # Dask's own
def test_parquet_sums_as_the_app_does(bench: Bench, tmp_path: Path) -> None:
    import duckdb

    place = unpacked(taken(bench.session, "series", "parquet", None), tmp_path)
    files = f"{place}/site=*/water_year=*/*.parquet"
    held = series_read.load(bench.session, bench.id)
    rows, total, known_count, first = duckdb.sql(
        "select count(*), sum(discharge_m3s), count(discharge_m3s), "
        f"min(epoch(time_utc)) from read_parquet('{files}', hive_partitioning=true)"
    ).fetchall()[0]
    flows = held["discharge_m3s"]
    assert (rows, known_count) == (flows.size, np.isfinite(flows).sum())
    assert total == pytest.approx(np.nansum(flows), rel=1e-12)
    assert first == held["t_s"][0]
    years = duckdb.sql(
        f"select distinct water_year from read_parquet('{files}', hive_partitioning=true)"
    ).fetchall()
    assert sorted(years) == [(2025,)], "1 July begins the water year"
    import dask.dataframe

    read = dask.dataframe.read_parquet(str(place), columns=["discharge_m3s"])
    assert float(read["discharge_m3s"].sum().compute()) == pytest.approx(total, rel=1e-12)


@pytest.mark.parametrize("what", asked.WHATS)
def test_a_site_without_anything_gives_files_without_rows(
    session: Session, tmp_path: Path, what: str
) -> None:
    site = Site(code="=BARE", name="Nothing yet")
    session.add(site)
    session.commit()
    days = {"first": "2020-01-01", "last": "2020-02-01"}
    for key, form in asked.FORMS.items():
        if what in form.holds:
            content = taken(session, what, key, site.id, **days)
            if form.suffix(what) == "zip":
                assert unpacked(content, tmp_path / key).is_dir()
            elif key == "netcdf":
                assert content.startswith(b"\x89HDF")
            elif key == "waterml":
                assert observations(content) == []
            else:
                assert json.loads(content)["features"][0]["properties"]["code"] == "=BARE"


def test_what_cannot_be_met_is_refused_before_anything_is_sent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for what, key, said in (
        ("all", "csv", "not one of the choices"),
        ("series", "xlsx", "not one of the formats"),
        ("gaugings", "waterml", "cannot hold check gaugings"),
        ("series", "csv", "is of one site"),
    ):
        with pytest.raises(BadInput, match=said):
            Wish(what=what, format_key=key).checked()
    monkeypatch.setattr(asked, "find_spec", lambda _: None)
    with pytest.raises(BadInput) as refused:
        Wish(what="series", format_key="parquet").checked()
    assert "pip install sillbook[parquet]" in refused.value.remedy


def cf_report(path: Path) -> str:
    """Return what `compliance-checker` 6.1 says of a file by the CF conventions, version 1.8."""
    command = [str(Path(sys.executable).parent / "compliance-checker"), "--test=cf:1.8", str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=False).stdout


def test_the_checker_of_the_conventions_finds_a_fault(bench: Bench, tmp_path: Path) -> None:
    import h5py

    path = tmp_path / "wrong.nc"
    path.write_bytes(taken(bench.session, "series", "netcdf", bench.site_id))
    with h5py.File(path, "a") as file:
        file["discharge"].attrs["units"] = "kg"
    assert 'Units "kg" for variable discharge' in cf_report(path)


def test_netcdf_reads_back_with_its_flags(bench: Bench, tmp_path: Path) -> None:
    """Xarray decodes time and fill values as the CF conventions say; the checks of CF are ours.

    No checker of the conventions was run: what is looked for stands in CF 1.8, 3.5 and 9.
    """
    import xarray

    path = tmp_path / "series.nc"
    path.write_bytes(taken(bench.session, "series", "netcdf", bench.site_id))
    held = series_read.load(bench.session, bench.id, names=("discharge_m3s", "flags", "flow"))
    with xarray.open_dataset(path, engine="h5netcdf") as read:
        assert np.array_equal(read["discharge"], held["discharge_m3s"], equal_nan=True)
        assert np.array_equal(read["time"].astype("M8[s]").astype(int), held["t_s"])
        assert np.array_equal(read["flags"], held["flags"])
        assert np.array_equal(read["flow"], held["flow"])
        assert read.attrs["featureType"] == "timeSeries"
        assert read["row_size"].attrs["sample_dimension"] == "obs"
        assert int(read["row_size"].sum()) == read.sizes["obs"]
        roles = [n for n, one in read.variables.items() if one.attrs.get("cf_role")]
        assert roles == ["structure"], "one variable names the time series"
        for name in ("flow", "how", "quality", "out_of_date", "flags"):
            about = read[name].attrs
            count = len(about.get("flag_values", about.get("flag_masks")))
            assert len(about["flag_meanings"].split()) == count
            kind = about.get("flag_values", about.get("flag_masks")).dtype
            assert kind == read[name].dtype, "of the type of the variable"


def read_by_mapping(content: bytes, place: Path) -> dict[str, Any]:
    """Return what a reader made from the OGC schemas finds in WaterML."""
    path = place / "series.xml"
    path.write_bytes(content)
    command = ["node", str(ROOT / ".ci" / "read-waterml.cjs"), str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


@pytest.mark.skipif(
    not (ROOT / ".ci/node_modules/ogc-schemas").is_dir(), reason="npm ci --prefix .ci makes it"
)
def test_waterml_is_read_by_the_mapping_of_the_ogc_schemas(bench: Bench, tmp_path: Path) -> None:
    """Checked with npm's `ogc-schemas` 2.6.1 by `jsonix`: it reads a document and writes it again.

    Every element comes back, so each is known where it stands; an element of another name does not.
    It is no validation against the XML Schema: order and cardinality are not checked.
    """
    content = taken(bench.session, "series", "waterml", bench.site_id)
    read = read_by_mapping(content, tmp_path)
    assert read["root"] == "Collection"
    assert read["after"] == read["before"] > 10_000
    flows = series_read.load(bench.session, bench.id)["discharge_m3s"]
    points = [point for one in read["told"] for point in one["points"]]
    assert len(points) == flows.size
    told = [point["metadata"]["tvpMeasurementMetadata"] for point in points]
    nil = np.array(["nilReason" in one for one in told])
    assert nil.tolist() == np.isnan(flows).tolist()
    values = [point["value"]["value"].get("value") for point in points]  # a nil one reads as 0
    assert [v for v, no in zip(values, nil, strict=True) if not no] == flows[~nil].tolist()
    wrong = content.replace(b"wml2:quality", b"wml2:goodness")
    assert read_by_mapping(wrong, tmp_path)["after"] < read["before"]


def test_every_way_out_says_what_is_out_of_date(bench: Bench, tmp_path: Path) -> None:
    """A gauge zero that was entered late: what was computed before it no longer holds."""
    import pyarrow.parquet
    import xarray

    zero = GaugeZero(
        structure_id=bench.id,
        valid_from=NOW.fromtimestamp(JULY + 12 * DAY, NOW.tzinfo),
        crest_rl_m=1.0,
        zero_rl_m=1.01,
        reason="levelled",
    )
    bench.session.add(zero)
    bench.session.commit()
    (why,) = {row["stale"] for row in daily.shown(bench.session, bench.id)}
    assert why

    def sent(format_key: str, what: str = "series") -> bytes:
        return taken(bench.session, what, format_key, bench.site_id)

    for what in ("series", "daily"):
        text = sent("waterml", what).decode()
        assert text.count(f"out of date: {why}") == text.count("<wml2:point>")
    place = unpacked(sent("parquet"), tmp_path)
    (file,) = place.glob("site=*/water_year=*/*.parquet")
    told = pyarrow.parquet.read_table(file, partitioning=None).column("stale")
    assert set(told.to_pylist()) == {why}
    (tmp_path / "x.nc").write_bytes(sent("netcdf"))
    with xarray.open_dataset(tmp_path / "x.nc", engine="h5netcdf") as read:
        assert bool((read["out_of_date"] == 1).all())
    assert json.loads(sent("geojson", "sites"))["features"][0]["properties"]["out_of_date"]
