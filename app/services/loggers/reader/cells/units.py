"""Units as headers write them: in brackets, before them, after a comma, in their own cell."""

import re

_WORDS = {
    "mm": "mm", "millimetre": "mm", "millimeter": "mm", "millimetres": "mm", "millimeters": "mm",
    "cm": "cm", "centimetre": "cm", "centimeter": "cm", "centimetres": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "meter": "m", "metres": "m", "meters": "m", "mtr": "m", "mtrs": "m",
    "ft": "ft", "feet": "ft", "foot": "ft", "in": "in", "inch": "in", "inches": "in",
    "pa": "Pa", "hpa": "hPa", "mbar": "mbar", "mb": "mbar", "millibar": "mbar",
    "millibars": "mbar", "kpa": "kPa", "bar": "bar", "bara": "bar", "barg": "bar", "psi": "psi",
    "psig": "psi", "psia": "psi", "mh2o": "mH2O", "mwc": "mH2O", "cmh2o": "cmH2O",
    "mmh2o": "mmH2O", "fth2o": "ftH2O", "inh2o": "inH2O",
    "c": "degC", "degc": "degC", "°c": "degC", "ºc": "degC", "℃": "degC", "celsius": "degC",
    "deg c": "degC", "f": "degF", "degf": "degF", "°f": "degF", "ºf": "degF", "deg f": "degF",
    "fahrenheit": "degF", "kelvin": "K",
    "ma": "mA", "counts": "counts", "count": "counts", "adc": "counts", "raw": "counts",
    "digits": "counts", "v": "V", "volt": "V", "volts": "V", "mv": "mV",
}  # fmt: skip
WATER_COLUMN = {"m": "mH2O", "cm": "cmH2O", "mm": "mmH2O", "ft": "ftH2O", "in": "inH2O"}
RAW_UNITS = ("counts", "mA", "mV", "V")  # what a sensor gives before it is scaled
_OF_WATER = re.compile(
    r"([a-z]+)[\s\-]*(?:\(?of\)?\s*)?(?:h2o|water(?:\s*(?:column|gauge))?|w\.?\s?c\.?|w\.?g\.?)"
)
# alone as a last word of a sentence these say too little
_WEAK = frozenset(("in", "c", "f", "v", "m", "raw", "count", "counts"))


def unit_exact(text: str) -> str | None:
    """Return the unit when a text is nothing but a unit, brackets and quotes apart."""
    bare = text.strip(" \t\u00a0\"'()[]{}<>").lower().replace("\u2082", "2").rstrip(".")
    bare = re.sub(r"\s+", " ", bare)
    if bare in _WORDS:
        return _WORDS[bare]
    found = _OF_WATER.fullmatch(bare)
    length = _WORDS.get(found[1]) if found else None
    return WATER_COLUMN.get(length) if length else None


def _first_words(text: str) -> str | None:
    """Return the unit a text begins with ("m above datum"), unless the word is too common."""
    words = re.split(r"[\s,;]+", text.strip())
    if len(words) < 2 or words[0].lower() in ("in", "c", "f", "v"):
        return None
    return unit_exact(" ".join(words[:3])) or unit_exact(words[0])


def unit_of(name: str) -> str | None:
    """Return the unit written in a column name: in brackets, after a comma, or as the last word."""
    name = name[:120].strip()
    inside = re.findall(r"[(\[{]([^()\[\]{}]*)[)\]}]", name)
    for text in inside:
        for part in (text, *re.split(r"[,;]", text)):
            if unit := unit_exact(part):
                return unit
    for text in inside:
        if unit := _first_words(text):
            return unit
    plain = re.sub(r"[(\[{][^()\[\]{}]*[)\]}]?", " ", name).strip(" \t,;:-_")
    if unit := unit_exact(plain):
        return unit
    parts = [part.strip() for part in re.split(r"[,;:]| / |\bin\b(?=\s+\w)", plain)]
    for part in parts[1:]:
        if unit := (unit_exact(part) or _first_words(part)):
            return unit
    water = re.search(r"(?i)\b\w+[\s\-]*(?:of\s+water|h2o)$", plain)
    if water and (unit := unit_exact(water[0])):
        return unit
    words = re.split(r"[\s_.,;:\-]+", plain)
    last = words[-1] if len(words) > 1 else ""
    if not last or (last.lower() in _WEAK and last != last.lower() and not name.isupper()):
        return None
    return unit_exact(last)
