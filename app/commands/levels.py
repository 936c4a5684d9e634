"""`sillbook levels`: reduce a level book from a file."""

from pathlib import Path
from typing import Annotated

import typer

from app.commands.context import JsonOption, in_words, metres, show_result
from app.services.surveys.from_files import reduce_file


def levels(
    file: Annotated[
        Path, typer.Argument(help="CSV with columns setup, point, bs, is, fs; distance_m.")
    ],
    start_rl: Annotated[
        float | None, typer.Option(parser=metres, help="Reduced level of the first point.")
    ] = None,
    close_rl: Annotated[
        float | None,
        typer.Option(
            parser=metres,
            help="Known level of the last point; not needed when the run ends where it began.",
        ),
    ] = None,
    unit: Annotated[str, typer.Option(help="Unit of the book: m or ft.")] = "m",
    rule: Annotated[
        str, typer.Option(help="setups, distance, ordinary, or the allowed misclosure in mm.")
    ] = "setups",
    distance_km: Annotated[
        float | None,
        typer.Option(
            parser=metres, help="Length of the run, for the distance rule; else from the sights."
        ),
    ] = None,
    role: Annotated[
        list[str] | None,
        typer.Option(help="What a point is, such as 'corners=crest left'; may be repeated."),
    ] = None,
    staff_mark_m: Annotated[
        float | None,
        typer.Option(parser=metres, help="What the staff reads at the point with role staff_mark."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Reduce a run of levels two ways, check it, close it and adjust it.

    The misclosure is shared by set-up; with --rule distance by the lengths of the sights, from the
    column distance_m (or bs_distance_m and fs_distance_m).

    Example: sillbook levels run.csv --start-rl 100 --json
    """
    with in_words(as_json):
        said = reduce_file(
            file,
            start_rl=start_rl,
            close_rl=close_rl,
            unit=unit,
            rule=rule,
            distance_km=distance_km,
            roles=role or (),
            staff_mark_m=staff_mark_m,
        )
    if as_json:
        show_result("levels", said["reduced_levels"], **said)  # type: ignore[arg-type]
        return
    for row in said["reduced_levels"]:  # type: ignore[attr-defined]
        adjusted = row["rl_adjusted"]
        print(
            f"{row['setup']:>3} {row['point']:<30} {row['kind']} {row['reading']:9.4f} "
            f"{row['rl']:11.4f} {'' if adjusted is None else format(adjusted, '11.4f')}"
        )
    print(f"sum of backsights {said['sum_bs']:.4f}, of foresights {said['sum_fs']:.4f} {unit}")
    if said["misclosure_mm"] is None:
        print("misclosure unknown")
    else:
        side = "within" if said["within_limit"] else "OUTSIDE"
        print(f"shared by {said['shared_by']}")
        print(
            f"misclosure {said['misclosure_mm']:+.2f} mm, {side} the limit "
            f"{said['limit_mm']:.2f} mm ({said['rule']})"
        )
    for name, value in said.get("results", {}).items():  # type: ignore[attr-defined]
        print(f"{name.replace('_', ' ')}: {'unknown' if value is None else value}")
    for words in said["words"]:  # type: ignore[attr-defined]
        print(words)
