"""What the registry says of its families: for the page of numbers, forms and the command line.

The form of a structure is made from a family's dimensions, and a device from the filled form.
"""

from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.hydraulics.families.registry import DEVICES, family
from app.hydraulics.structure.device import Device, Dimension, Family, Provenance
from app.language.forms import Form

DIM = "dim."  # form names of dimensions, so that none can clash with another box


def families() -> tuple[Family, ...]:
    """Return all families in the order of the registry."""
    return tuple(DEVICES.values())


def weakest_provenance(of: Family) -> str:
    """Return the weakest mark among a family's sources: what its numbers rest on at worst."""
    order = (Provenance.READ, Provenance.DERIVED, Provenance.PRACTICE, Provenance.MEMORY)
    return str(max((source.provenance for source in of.sources), key=order.index))


def family_card(of: Family) -> dict[str, Any]:
    """Return a family as plain data: sources, provenance, limits, tested tolerance."""
    return {
        "family": of.key,
        "name": of.name,
        "summary": of.summary,
        "sizes": dict(of.sizes),
        "limits": of.limits_text,
        "tested_tolerance_pct": of.tested_tolerance_pct,
        "tested_words": of.tested_words,
        "can_drown": of.can_drown,
        "correction": of.correction,
        "weakest_provenance": weakest_provenance(of),
        "sources": [{"text": s.text, "provenance": str(s.provenance)} for s in of.sources],
    }


def family_cards() -> list[dict[str, Any]]:
    """Return every family's card."""
    return [family_card(of) for of in families()]


def dimension_help(family_key: str) -> list[dict[str, Any]]:
    """Return what `--dim` takes for a family.

    Raises
    ------
    BadInput
        When there is no such family.
    """
    return [_dimension(d) for d in family(family_key).dimensions]


def _dimension(d: Dimension) -> dict[str, Any]:
    return {
        "key": d.key,
        "label": d.label,
        "unit": d.unit,
        "kind": d.kind,
        "required": d.required and d.default is None,
        "default": d.default,
        "low": d.low,
        "high": d.high,
        "choices": list(d.choices),
        "aliases": list(d.aliases),
        "help": d.help,
    }


@dataclass(frozen=True, kw_only=True)
class DimensionBox:
    """One box of the structure form: what the registry says of a dimension, as a form needs it."""

    name: str
    key: str
    label: str
    kind: str
    hint: str
    required: bool
    choices: tuple[tuple[str, str], ...]
    placeholder: str


def family_of(key: str) -> Family | None:
    return DEVICES.get(key)


def boxes(family: Family) -> list[DimensionBox]:
    """Return the form boxes of a family, in the order of its dimensions."""
    made = []
    for d in family.dimensions:
        unit = d.unit if d.unit not in ("", "-") else ""
        bounds = [
            f"from {d.low:g}" if d.low is not None else "",
            f"to {d.high:g}" if d.high else "",
        ]
        hint = " ".join([d.help, " ".join(filter(None, bounds)) + (f" {unit}" if unit else "")])
        preset = d.key != "size" and bool(family.presets)
        made.append(
            DimensionBox(
                name=DIM + d.key,
                key=d.key,
                label=d.label + (f", {unit}" if unit else ""),
                kind=d.kind,
                hint=hint.strip(),
                required=d.required and d.default is None and not preset,
                choices=tuple((c, family.sizes.get(c, c)) for c in d.choices),
                placeholder="" if d.default is None else f"{d.default}",
            )
        )
    return made


def dims_of(form: Form) -> dict[str, str]:
    """Return what was typed into the boxes of dimensions, empty ones left out."""
    return {k.removeprefix(DIM): v for k, v in form.items() if k.startswith(DIM) and v.strip()}


def device_from(form: Form) -> Device:
    """Return the device a form describes; raises BadInput naming the dimension."""
    key = form.get("family", "")
    family = DEVICES.get(key)
    if family is None:
        raise BadInput("family", key, "choose what kind of structure it is", "Pick one family.")
    return family.build(dims_of(form))
