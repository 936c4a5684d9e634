"""Series and daily flow as WaterML 2.0 part 1: time series (OGC 10-126r4), streamed point by point.

One observation for each stretch with the same ratings, whose procedure cites them: a change of
rating inside the range begins another. The water between two points that lie farther apart than the
gap rule is not known: `maxGapPeriod` says so, and a reader must not draw a line across. The
vocabularies are those of the standard (clause 7 and its register, `from memory`).
"""

import re
from collections.abc import Iterator
from datetime import datetime
from xml.sax.saxutils import escape, quoteattr

from sqlmodel import Session

from app.hydraulics.base.rounding import carried
from app.language.columns import MADE_BY
from app.language.tables import csv_cell
from app.records.sites import Rating, Site
from app.services.datasets.bundle import about_lines, provenance
from app.services.datasets.runs import Point, Run, daily_runs, series_runs
from app.services.readings.list import Span
from app.services.sites.register import structures_of
from app.services.sites.views import described, ratings_of

SPACES = {
    "wml2": "http://www.opengis.net/waterml/2.0",
    "gml": "http://www.opengis.net/gml/3.2",
    "om": "http://www.opengis.net/om/2.0",
    "sa": "http://www.opengis.net/sampling/2.0",
    "sams": "http://www.opengis.net/samplingSpatial/2.0",
    "swe": "http://www.opengis.net/swe/2.0",
    "xlink": "http://www.w3.org/1999/xlink",
    "xsi": "http://www.w3.org/2001/XMLSchema-instance",
}
TERMS = "http://www.opengis.net/def/waterml/2.0"
NIL = "http://www.opengis.net/def/nil/OGC/0"
QUALITY = {
    "good": "good",
    "fair": "good",
    "unchecked": "unchecked",
    "estimated": "estimate",
    "not determined": "missing",
    "missing": "missing",
}
"""The standard's code of each of our words; ours stands beside it as the title."""
CONTINUOUS = ("Continuous", "Continuous/instantaneous")
AVERAGE = ("AverageSucc", "Average in succeeding interval")
ILLEGAL = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What no XML document may hold (XML 1.0, production 2)."""


def text(value: object) -> str:
    """Return words as the text of an element, without what XML cannot hold."""
    return escape(ILLEGAL.sub("\ufffd", str(value)))


def link(name: str, href: str, title: str = "") -> str:
    shown = ILLEGAL.sub("\ufffd", title)
    said = f" xlink:title={quoteattr(shown)}" if title else ""
    return f"<{name} xlink:href={quoteattr(href)}{said}/>"


def waterml(session: Session, site: Site, what: str, span: Span, at: datetime) -> Iterator[str]:
    """Yield the document; a site without a record gives a collection with the site alone."""
    known = provenance(session, site, span, at)
    spaces = " ".join(f'xmlns:{key}="{uri}"' for key, uri in SPACES.items())
    made = known["made_at"]
    yield (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<wml2:Collection {spaces} gml:id="c1">\n'
        f"<gml:description>{text(' '.join(about_lines(known)))}</gml:description>\n"
        '<wml2:metadata><wml2:DocumentMetadata gml:id="c1.made">'
        f"<wml2:generationDate>{made}</wml2:generationDate>"
        f"<wml2:generationSystem>{text(MADE_BY)}</wml2:generationSystem>"
        "</wml2:DocumentMetadata></wml2:metadata>\n"
        f"<wml2:samplingFeatureMember>{_place(site)}</wml2:samplingFeatureMember>\n"
    )
    make = series_runs if what == "series" else daily_runs
    count = 0
    for structure in structures_of(session, site.id or 0):
        ratings = {one.id: one for one in ratings_of(session, [structure.id or 0])}
        for run in make(session, site, structure, span):
            count += 1
            cited = [ratings[key] for key in run.rating_ids if key in ratings]
            yield from _observation(f"o{count}", run, cited, made)
    yield "</wml2:Collection>\n"


def _place(site: Site) -> str:
    """Return the monitoring point; one without a position has no shape but a reason."""
    at = ""
    if site.latitude is None or site.longitude is None:
        shape = f'<sams:shape nilReason="{NIL}/unknown"/>'
    else:
        at = f"{carried(site.latitude)!r} {carried(site.longitude)!r}"
        shape = (
            '<sams:shape><gml:Point gml:id="p1.at" '
            f'srsName="http://www.opengis.net/def/crs/EPSG/0/4326"><gml:pos>{at}</gml:pos>'
            "</gml:Point></sams:shape>"
        )
    sign, size = "-" if site.utc_offset_min < 0 else "+", abs(site.utc_offset_min)
    return (
        '<wml2:MonitoringPoint gml:id="p1">'
        f'<gml:identifier codeSpace="urn:sillbook:site">{text(site.code)}</gml:identifier>'
        f"<gml:name>{text(site.name)}</gml:name>"
        f'<sa:sampledFeature nilReason="{NIL}/unknown"/>{shape}'
        "<wml2:timeZone><wml2:TimeZone>"
        f"<wml2:zoneOffset>{sign}{size // 60:02d}:{size % 60:02d}</wml2:zoneOffset>"
        "</wml2:TimeZone></wml2:timeZone></wml2:MonitoringPoint>"
    )


def _observation(key: str, run: Run, cited: list[Rating], made: str) -> Iterator[str]:
    daily = run.what == "daily"
    term, said = AVERAGE if daily else CONTINUOUS
    every = "<wml2:aggregationDuration>P1D</wml2:aggregationDuration>" if daily else ""
    period = (
        f'<gml:TimePeriod gml:id="{key}.{{}}"><gml:beginPosition>{run.first}</gml:beginPosition>'
        f"<gml:endPosition>{run.last}</gml:endPosition></gml:TimePeriod>"
    )
    process = "".join(
        f"<wml2:comment>{text(line)}</wml2:comment>"
        for line in (
            f"Structure {run.structure.id}: {run.structure.name}.",
            *(
                f"Rating {one.id} ({one.family}), in force from {csv_cell(one.valid_from)}: "
                f"{described(one)}. {one.reason}".strip()
                for one in cited
            ),
            "Uncertainties in the comments of points are expanded, k=2.",
        )
    )
    gap = f"<wml2:maxGapPeriod>PT{run.gap_s}S</wml2:maxGapPeriod>" if run.gap_s else ""
    name = f"{run.structure.name}, {'daily mean discharge' if daily else 'discharge'}"
    yield (
        f'<wml2:observationMember><om:OM_Observation gml:id="{key}">'
        f"<gml:name>{text(name)}</gml:name>"
        f"{link('om:type', f'{TERMS}/observationType/MeasurementTimeseriesTVPObservation')}"
        f"<om:phenomenonTime>{period.format('time')}</om:phenomenonTime>"
        f'<om:resultTime><gml:TimeInstant gml:id="{key}.made"><gml:timePosition>{made}'
        "</gml:timePosition></gml:TimeInstant></om:resultTime>"
        f'<om:procedure><wml2:ObservationProcess gml:id="{key}.process">'
        f"{link('wml2:processType', f'{TERMS}/processType/Algorithm', 'Algorithm')}{every}"
        f"{process}</wml2:ObservationProcess></om:procedure>"
        f"{link('om:observedProperty', 'urn:sillbook:property:discharge', 'Discharge')}"
        f"{link('om:featureOfInterest', '#p1')}"
        f'<om:result><wml2:MeasurementTimeseries gml:id="{key}.series">'
        "<wml2:metadata><wml2:MeasurementTimeseriesMetadata>"
        f"<wml2:temporalExtent>{period.format('extent')}</wml2:temporalExtent>{gap}"
        "</wml2:MeasurementTimeseriesMetadata></wml2:metadata>"
        "<wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata>"
        f'<wml2:uom code="m3/s"/>'
        f"{link('wml2:interpolationType', f'{TERMS}/interpolationType/{term}', said)}{every}"
        "</wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>\n"
    )
    held: list[str] = []
    for point in run.points:
        held.append(_point(point))
        if len(held) == 500:
            yield "".join(held)
            held = []
    yield "".join(held)
    yield (
        "</wml2:MeasurementTimeseries></om:result></om:OM_Observation></wml2:observationMember>\n"
    )


def _point(point: Point) -> str:
    nil = point.value_m3s is None
    code = QUALITY[point.quality]
    value = (
        '<wml2:value xsi:nil="true"/>'
        if nil
        else f"<wml2:value>{csv_cell(point.value_m3s)}</wml2:value>"
    )
    # "unknown": not to be computed, though there was one (GML 3.2.1, 8.2.3.1)
    why = "missing" if point.quality == "missing" else "unknown"
    reason = link("wml2:nilReason", f"{NIL}/{why}", point.flow or point.how) if nil else ""
    spread = f"± {csv_cell(point.uncertainty_pct)} %" if point.uncertainty_pct is not None else ""
    old = f"out of date: {point.stale}" if point.stale else ""
    words = "; ".join(part for part in (point.how, point.flow, point.flags, spread, old) if part)
    return (
        f"<wml2:point><wml2:MeasurementTVP><wml2:time>{point.at}</wml2:time>{value}"
        f"<wml2:metadata><wml2:TVPMeasurementMetadata>"
        f"{link('wml2:quality', f'{TERMS}/quality/{code}', point.quality)}{reason}"
        f"<wml2:comment>{text(words)}</wml2:comment>"
        "</wml2:TVPMeasurementMetadata></wml2:metadata></wml2:MeasurementTVP></wml2:point>\n"
    )
