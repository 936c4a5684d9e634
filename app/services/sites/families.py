"""What the registry says of its families: for the page of numbers, forms and the command line."""

from typing import Any

from app.hydraulics.families.registry import DEVICES, family
from app.hydraulics.structure.device import Dimension, Family, Provenance


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
