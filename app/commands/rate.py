"""`sillbook rate`: a discharge from a head, without a site."""

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from app.commands.context import JsonOption, in_words, show_result, single
from app.errors import BadInput
from app.services.ratings import once as rate_once
from app.services.sites import families


def rate(
    family: Annotated[str, typer.Argument(help="Family key; `sillbook devices` lists them.")],
    dim: Annotated[
        list[str] | None,
        typer.Option("--dim", help="key=value; repeat. Lengths in metres, sizes by key."),
    ] = None,
    head: Annotated[str | None, typer.Option(help="Head over the zero, m.")] = None,
    tailwater: Annotated[
        str | None, typer.Option(help="Tailwater over the same zero, m; leave out when not read.")
    ] = None,
    head_uncertainty: Annotated[
        str, typer.Option(help="Uncertainty of a head, m, k = 2.")
    ] = "0.003",
    csv: Annotated[
        Path | None, typer.Option("--csv", help="File with columns head_m[,tailwater_m].")
    ] = None,
    help_dims: Annotated[
        bool, typer.Option("--help-dims", help="Show what --dim takes for the family.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Rate a head, or a file of heads, through a flume or weir.

    Examples: sillbook rate parshall --dim size=1ft --head 0.30 --tailwater 0.20

    sillbook rate long_throat --dim throat=trap --dim b=0.3 --dim m=1 --dim L=0.9 --dim p=0.2
    --dim approach=trap --dim B=0.3 --dim B_m=1 --head 0.3 --json
    """
    with in_words(as_json):
        if help_dims:
            _show_dimensions(family, as_json)
            return
        dims = rate_once.dims_from_pairs(dim or [])
        if csv is not None:
            rows = rate_once.rate_csv(family, dims, _text(csv), head_uncertainty)
            if as_json:
                show_result("rated-heads", rows)
            else:
                print(rate_once.as_csv(rows), end="")
            return
        if head is None:
            raise BadInput("head", "not given", "a head is needed", "Add --head, or --csv FILE.")
        answer = rate_once.rate_one(family, dims, head, tailwater, head_uncertainty)
    if as_json:
        show_result("rated-head", single(answer), **answer)
    else:
        print("\n".join(_lines(answer)))


def _text(path: Path) -> str:
    try:
        return sys.stdin.read() if str(path) == "-" else path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            "csv", path, f"cannot be read: {error}", "Give a CSV file in UTF-8."
        ) from error


def _lines(answer: dict[str, Any]) -> list[str]:
    lines = [rate_once.say(answer), f"Flow: {answer['flow']}"]
    if answer["flags"]:
        lines.append("Flags: " + ", ".join(answer["flags"]))
    low, high = answer["head_range_m"]
    lines.append(
        f"RatingTested heads: {low:.4g} to {high:.4g} m; "
        f"a discharge is given to {answer['head_limit_m']:.4g} m"
    )
    lines.append(f"Drowning: {answer['drowning']}")
    labels = {
        "submergence_ratio": "Submergence ratio",
        "modular_limit": "Modular limit",
        "coefficient": "Coefficient",
        "velocity_coefficient": "Velocity coefficient",
        "total_head_m": "Total head, m",
        "froude": "Approach Froude number",
    }
    for key, label in labels.items():
        if answer.get(key) is not None:
            lines.append(f"{label}: {answer[key]:.4g}")
    for key, value in answer.get("comparison", {}).items():
        words = key.removesuffix("_m3s").replace("_", " ")
        unit = " m3/s" if key.endswith("_m3s") else ""
        known = "not known" if value is None else f"{value:.4g}{unit}"
        lines.append(f"For comparison, {words}: {known}")
    lines += [f"Source ({s['provenance']}): {s['text']}" for s in answer["sources"]]
    return lines


def _show_dimensions(family: str, as_json: bool) -> None:
    found = families.dimension_help(family)
    if as_json:
        show_result("dimensions", found)
        return
    for d in found:
        need = "required" if d["required"] else "optional"
        if d["default"] is not None:
            need = f"default {d['default']}"
        unit = f", {d['unit']}" if d["unit"] else ""
        print(f"{d['key']:<16} {d['label']}{unit} ({d['kind']}; {need})")
        details = [d["help"]]
        if d["choices"]:
            details.append("One of: " + ", ".join(d["choices"]) + ".")
        if d["low"] is not None and d["high"] is not None:
            details.append(f"{d['low']:g} to {d['high']:g}.")
        if d["aliases"]:
            details.append("Also as " + ", ".join(d["aliases"]) + ".")
        text = " ".join(part for part in details if part)
        if text:
            print(f"{'':<16} {text}")


def devices(
    as_json: JsonOption = False,
) -> None:
    """List the families: sources and how each was used, limits, tested tolerance.

    Example: sillbook devices --json
    """
    cards = families.family_cards()
    if as_json:
        show_result("devices", cards)
        return
    for card in cards:
        print(f"{card['family']}: {card['name']}. {card['summary']}")
        if card["sizes"]:
            print("  sizes: " + ", ".join(card["sizes"]))
        print(f"  limits: {card['limits']}")
        drowned = "drowned readings corrected" if card["correction"] else "no drowned correction"
        print(f"  tested within {card['tested_words']}; {drowned}")
        for source in card["sources"]:
            print(f"  source, {source['provenance']}: {source['text']}")
        print()
