"""`sillbook gauge` and `sillbook fit`: check gaugings and fitted ratings from files."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from app.commands.context import JsonOption, figure, in_words, metres, show_result, single
from app.services.gaugings import from_files as gauging_files

gauge = typer.Typer(help="Discharge and uncertainty of a check gauging.", no_args_is_help=True)

RatingFlow = Annotated[
    float | None,
    typer.Option("--rating-l-s", parser=figure, help="Rated discharge at the mean head, L/s."),
]
RatingPct = Annotated[
    float | None,
    typer.Option("--rating-pct", parser=metres, help="Its expanded uncertainty, %."),
]
Tolerance = Annotated[
    float, typer.Option("--tolerance-pct", parser=metres, help="Tolerance to verify, %.")
]


@gauge.command("velocity-area")
def velocity_area(
    file: Annotated[
        Path, typer.Argument(help="CSV with distance_m, depth_m and v, or v02, v06, v08.")
    ],
    method: Annotated[str, typer.Option(help="mid or mean (section).")] = "mid",
    edges: Annotated[
        str, typer.Option(help="bank or wall; or the first and last, such as bank,wall.")
    ] = "bank",
    rating_l_s: RatingFlow = None,
    rating_pct: RatingPct = None,
    tolerance_pct: Tolerance = 10.0,
    as_json: JsonOption = False,
) -> None:
    """Gauge by verticals across a section.

    Example: sillbook gauge velocity-area section.csv --json
    """
    _say(
        lambda: gauging_files.velocity_area_file(file, method=method, edges=edges),
        (rating_l_s, rating_pct, tolerance_pct),
        as_json,
    )


@gauge.command("volumetric")
def volumetric(
    volume_l: Annotated[float, typer.Option(parser=figure, help="Volume of one fill, litres.")],
    times: Annotated[str, typer.Option(help="Filling times in s, such as 8.2,8.4,8.1.")],
    rating_l_s: RatingFlow = None,
    rating_pct: RatingPct = None,
    tolerance_pct: Tolerance = 10.0,
    as_json: JsonOption = False,
) -> None:
    """Gauge by timed fills of a known volume.

    Example: sillbook gauge volumetric --volume-l 20 --times 8.2,8.4,8.1,8.3,8.25 --json
    """
    _say(
        lambda: gauging_files.volumetric_text(volume_l=volume_l, times=times),
        (rating_l_s, rating_pct, tolerance_pct),
        as_json,
    )


@gauge.command("dilution")
def dilution(
    file: Annotated[
        Path, typer.Argument(help="CSV with time_s and conductivity or concentration.")
    ],
    mass_g: Annotated[float | None, typer.Option(parser=figure, help="Mass of tracer, g.")] = None,
    cf: Annotated[
        float | None,
        typer.Option(parser=metres, help="Calibration factor, mg/L for each uS/cm."),
    ] = None,
    volume_l: Annotated[
        float | None, typer.Option(parser=figure, help="Volume of the solution, litres.")
    ] = None,
    concentration_mg_l: Annotated[
        float | None, typer.Option(parser=figure, help="Concentration of the solution, mg/L.")
    ] = None,
    background: Annotated[
        float | None,
        typer.Option(
            parser=figure, help="Background before; else from the readings before the rise."
        ),
    ] = None,
    background_end: Annotated[
        float | None,
        typer.Option(
            parser=figure,
            help="Background after the cloud; else from the level end of the trace.",
        ),
    ] = None,
    calibration: Annotated[
        Path | None, typer.Option(help="CSV with concentration and conductivity of a calibration.")
    ] = None,
    rating_l_s: RatingFlow = None,
    rating_pct: RatingPct = None,
    tolerance_pct: Tolerance = 10.0,
    as_json: JsonOption = False,
) -> None:
    """Gauge by the cloud of one gulp of tracer, over a straight line of background.

    Read the background before the gulp and once the cloud has passed: a drift moves the discharge.

    Example: sillbook gauge dilution trace.csv --mass-g 500 --cf 0.5 --json
    """
    _say(
        lambda: gauging_files.dilution_file(
            file,
            mass_g=mass_g,
            factor=cf,
            volume_l=volume_l,
            concentration_mg_l=concentration_mg_l,
            background=background,
            background_end=background_end,
            calibration=calibration,
        ),
        (rating_l_s, rating_pct, tolerance_pct),
        as_json,
    )


@gauge.command("constant-rate")
def constant_rate(
    injection_l_s: Annotated[
        float, typer.Option(parser=figure, help="Feed of tracer solution, L/s.")
    ],
    injected: Annotated[float, typer.Option(parser=figure, help="Concentration of the feed.")],
    plateau: Annotated[str, typer.Option(help="Plateau concentrations, one or several.")],
    background: Annotated[
        float | None,
        typer.Option(parser=figure, help="Background before, in the same unit; 0 for none at all."),
    ] = None,
    background_end: Annotated[
        float | None, typer.Option(parser=figure, help="Background after the plateau.")
    ] = None,
    rating_l_s: RatingFlow = None,
    rating_pct: RatingPct = None,
    tolerance_pct: Tolerance = 10.0,
    as_json: JsonOption = False,
) -> None:
    """Gauge by tracer fed at a constant rate.

    Example: sillbook gauge constant-rate --injection-l-s 0.01 --injected 150000 --plateau 25
    --background 5 --background-end 5 --json
    """
    _say(
        lambda: gauging_files.constant_rate_text(
            injection_l_s=injection_l_s,
            injected=injected,
            plateau=plateau,
            background=background,
            background_end=background_end,
        ),
        (rating_l_s, rating_pct, tolerance_pct),
        as_json,
    )


@gauge.command("float")
def float_(
    distance_m: Annotated[float, typer.Option(parser=metres, help="Length of the run, m.")],
    times: Annotated[str, typer.Option(help="Travel times in s.")],
    area_m2: Annotated[float, typer.Option(parser=figure, help="Wetted area, m2.")],
    factor: Annotated[
        float, typer.Option(parser=metres, help="Mean over surface velocity.")
    ] = 0.85,
    as_json: JsonOption = False,
) -> None:
    """Gauge by surface floats: an indication only.

    Example: sillbook gauge float --distance-m 10 --times 22,23.5,22.5 --area-m2 0.54 --json
    """
    _say(
        lambda: gauging_files.float_text(
            distance_m=distance_m, times=times, area_m2=area_m2, factor=factor
        ),
        (None, None, 10.0),
        as_json,
    )


def fit(
    file: Annotated[
        Path, typer.Argument(help="CSV with head_m, discharge_m3s and perhaps uncertainty_pct.")
    ],
    cease_to_flow: Annotated[
        float | None,
        typer.Option(parser=metres, help="Head at which flow ceases, m; else it is searched for."),
    ] = None,
    exponent: Annotated[float | None, typer.Option(parser=metres, help="Fix the exponent.")] = None,
    break_at: Annotated[
        list[float] | None,
        typer.Option("--break", parser=metres, help="Head where segments meet, m; repeatable."),
    ] = None,
    prior_exponent: Annotated[
        float | None,
        typer.Option(parser=metres, help="Theoretical exponent, to steady a fit to few gaugings."),
    ] = None,
    prior_sd: Annotated[
        float, typer.Option(parser=metres, help="How far it may stray, k = 1.")
    ] = 0.05,
    as_json: JsonOption = False,
) -> None:
    """Fit a rating to gaugings; nothing becomes a rating until a person says so.

    Example: sillbook fit gaugings.csv --json
    """
    with in_words(as_json):
        said = gauging_files.fit_file(
            file,
            cease_to_flow_m=cease_to_flow,
            exponent=exponent,
            breaks_m=break_at or (),
            prior=None if prior_exponent is None else (prior_exponent, prior_sd),
        )
    if as_json:
        show_result("fit", said["gaugings"], **said)  # type: ignore[arg-type]
        return
    for each in said["segments"]:  # type: ignore[attr-defined]
        print(
            f"Q = {each['coefficient']:.6g} (h - {each['cease_to_flow_m']:.4f})^"
            f"{each['exponent']:.4f}, {each['h_lo_m']:.3f} to {each['h_hi_m']:.3f} m"
        )
    for each in said["gaugings"]:  # type: ignore[attr-defined]
        print(f"{each['head_m']:.3f} m: {each['residual_pct']:+.1f} % {each['word']}")
    for flag in said["flags"]:  # type: ignore[attr-defined]
        print(flag)


def _say(
    gauging: Callable[[], gauging_files.Gauging],
    rating: tuple[float | None, float | None, float],
    as_json: bool,
) -> None:
    rating_l_s, rating_pct, tolerance_pct = rating
    with in_words(as_json):
        said = gauging_files.judged(
            gauging(), rating_l_s=rating_l_s, rating_pct=rating_pct, tolerance_pct=tolerance_pct
        )
    if as_json:
        show_result("gauging", single(said), **said)
        return
    print(f"{said['discharge_l_s']:.4g} L/s ± {said['uncertainty_pct']:.1f} % ({said['method']})")
    for flag in said["flags"]:  # type: ignore[attr-defined]
        print(flag)
    verdict = said.get("verdict")
    if isinstance(verdict, dict):
        print(f"{verdict['word']}: {verdict['reason']}")
