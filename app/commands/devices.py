"""`sillbook devices`: what every family's numbers rest on."""

from app.commands.context import JsonOption, show_json
from app.services.sites.families import family_cards


def devices(
    as_json: JsonOption = False,
) -> None:
    """List the families: sources and how each was used, limits, tested tolerance.

    Example: sillbook devices --json
    """
    cards = family_cards()
    if as_json:
        show_json(cards)
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
