"""`sillbook choose`: which structure for a race and a range of flows."""

from typing import Annotated, Any

import typer

from app.commands.context import JsonOption, in_words, show_result
from app.language.words import counted
from app.services.plans.choosing import answer as choosing
from app.services.plans.choosing.question import question


def choose(
    least: Annotated[str, typer.Option("--min", help="Least flow to measure, m3/s.")],
    most: Annotated[str, typer.Option("--max", help="Greatest flow to measure, m3/s.")],
    race: Annotated[
        str,
        typer.Option(help="trap:b=0.8,m=1,slope=0.0005,n=0.03 (or rect:, tri:)."),
    ],
    bank: Annotated[str, typer.Option(help="Lowest bank over the race's bed, m.")],
    tail: Annotated[
        str,
        typer.Option(help="Tail depths surveyed at known flows, 0.02:0.18,0.1:0.33 (m3/s:m)."),
    ] = "",
    rise: Annotated[
        str, typer.Option(help="Largest rise of the water upstream that is allowed, m.")
    ] = "",
    weed: Annotated[str, typer.Option(help="Tail rise allowed for weed, m; 0.05 if left.")] = "",
    head_uncertainty: Annotated[
        str, typer.Option(help="Uncertainty of a head, m, k = 2.")
    ] = "0.003",
    fish: Annotated[bool, typer.Option("--fish", help="Fish must pass.")] = False,
    debris: Annotated[bool, typer.Option("--debris", help="Debris or silt comes down.")] = False,
    carried: Annotated[bool, typer.Option("--carried", help="Carried in by hand.")] = False,
    top: Annotated[int, typer.Option(min=1, help="Rows shown without --json.")] = 25,
    as_json: JsonOption = False,
) -> None:
    """Which structure: every family and size for a race and a range of flows, with reasons.

    Example: sillbook choose --min 0.004 --max 0.12 --race trap:b=0.8,m=1,slope=0.0005,n=0.03
    --bank 0.6
    """
    with in_words(as_json):
        answer = choosing.choose(
            question(
                {
                    "min": least, "max": most, "race": race, "bank": bank, "tail": tail,
                    "rise": rise, "weed": weed, "head_uncertainty": head_uncertainty,
                    "fish": fish, "debris": debris, "carried": carried,
                }
            )
        )  # fmt: skip
    if as_json:
        show_result("which-flume", answer.pop("rows"), **answer)
    else:
        print("\n".join(_lines(answer, top)))


def _lines(answer: dict[str, Any], top: int) -> list[str]:
    rows = answer["rows"]
    lines = [
        f"{counted(answer['structures'], 'structure')} at "
        f"{counted(answer['combinations'], 'crest height')}, "
        f"{answer['least_m3s'] * 1000:g} to {answer['most_m3s'] * 1000:g} L/s",
        answer["tail_note"],
    ]
    for row in rows[:top]:
        lines.append(f"{row['rank']:>3} {row['verdict']}: {row['described']}")
        if "flows" in row:
            lines.append(
                f"    crest {row['crest_m'] * 1000:.0f} mm over the bed, head "
                f"{_mm(row['head_least_m'])} to {_mm(row['head_most_m'])} mm, freeboard "
                f"{row['freeboard_m']:.3f} m"
            )
            lines.append(
                f"    submergence {row['submergence_ratio']:.2f} of at most "
                f"{_figure(row['modular_limit'])}, uncertainty "
                f"{_figure(row['uncertainty_most_flow_pct'])} % at the greatest flow, "
                f"{_figure(row['uncertainty_worst_pct'])} % at worst"
            )
        lines += [f"    {reason}" for reason in row["reasons"]]
    if len(rows) > top:
        lines.append(f"and {len(rows) - top} more: --top {len(rows)}, or --json for all")
    return [*lines, answer["caution"]]


def _mm(head_m: float | None) -> str:
    return "?" if head_m is None else f"{head_m * 1000:.0f}"


def _figure(value: float | None) -> str:
    return "not known" if value is None else f"{value:.0f}" if value >= 10 else f"{value:.2g}"
