"""Devices of every family for the tests that go over the whole registry."""

from app.hydraulics.families.registry import DEVICES
from app.hydraulics.structure.device import Device, Family

# the table of published figures that stands behind each family: file, and its name there
TABLE_OF: dict[str, tuple[str, str]] = {
    "parshall": ("parshall", "parshall"),
    "long_throat_rect": ("long_throat", "iso4359"),
    "long_throat_trap": ("long_throat", "iso4359"),
    "long_throat_u": ("long_throat", "iso4359"),
    "long_throat": ("long_throat", "long_throated"),
    "cutthroat": ("cutthroat", "cutthroat"),
    "h_flume": ("h_flume", "hflume"),
    "v60": ("v_trapezoid", "v60_trapezoidal"),
    "v_notch": ("thin_plate", "vnotch"),
    "rect_weir": ("thin_plate", "rect_weir"),
    "full_width_weir": ("thin_plate", "rehbock"),
    "cipolletti": ("thin_plate", "cipolletti"),
    "broad_crested": ("solid_weirs", "broad_crested"),
    "round_nose": ("solid_weirs", "round_nose"),
    "triangular_profile": ("solid_weirs", "triangular_profile"),
    "orifice": ("solid_weirs", "orifice"),
    "user_power": ("user_rating", "rating_power"),
    "user_table": ("user_rating", "rating_table_loglog"),
}

# beside each family's own example: other shapes that take other branches
VARIANTS: dict[str, tuple[dict[str, str | float], ...]] = {
    "parshall": ({"size": "6in"}, {"size": "8ft"}, {"size": "0.25m"}, {"size": "50ft"}),
    "long_throat_rect": ({"b": 0.3, "L": 0.6, "B": 0.6},),
    "long_throat": (
        {"size": "RBC 50 mm"},
        {"size": "Palmer-Bowlus 300 mm"},
        {"throat": "tri", "m": 1.0, "L": 0.6, "p": 0.1, "B": 1.2},
        {"throat": "u", "D": 0.3, "L": 0.5, "p": 0.05, "B": 0.8, "exit_slope": 6.0},
        {"throat": "circle", "D": 0.6, "L": 0.6, "p": 0.1, "B": 1.0, "h_max": 0.5},
        {"throat": "parab", "f": 0.1, "L": 0.6, "p": 0.1, "B": 2.0},
        {
            "throat": "compound",
            "points": "0:0.6; 0.1:0.2; 0.4:0.2; 0.5:0; 0.9:0; 1.0:0.2; 1.3:0.2; 1.4:0.6",
            "L": 0.6,
            "p": 0.1,
            "approach": "trap",
            "B": 2.0,
            "B_m": 1.0,
        },
    ),
    "user_power": ({"segments": "1.2,1.62,0.035,0.06,0.3; 1.0,1.4826,0.035,0.3,0.8"},),
    "user_table": ({"table": "0.02:0, 0.05:0.0072, 0.1:0.0208, 0.2:0.0596, 0.4:0.1711"},),
}


def devices() -> list[Device]:
    """Return the example of every family and the variants."""
    return [
        family.build(dims)
        for key, family in DEVICES.items()
        for dims in (family.example, *VARIANTS.get(key, ()))
    ]


def name(of: Device | Family) -> str:
    return of.key if isinstance(of, Family) else f"{of.family.key} {of.describe()}"[:70]
