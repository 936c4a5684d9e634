"""Words of the trade that are chosen from, each list once: forms, pages, exports and phone agree.

A key is what is stored; its words are what people read. The phone's own tables are held equal to
these by a test (tests/language/test_trade.py).
"""

WATER = ("weed", "debris", "silt", "ice", "surging")
"""What water may be like when a head is read."""

CONTROL = ("clear", *WATER)
"""What the control may be like at a check gauging."""

VISIT = (*WATER, "damage", "leak", "stock", "vandal", "gate moved")
"""What a visit may find."""

OCCASIONS = {"as_found": "as found", "during": "during", "as_left": "as left"}

TAILWATER = {
    "clearly_free": "clearly free, drop seen",
    "read": "read on the tail staff",
    "not_seen": "not seen",
}

CORNERS = {
    "corner_ul": "upstream left",
    "corner_ur": "upstream right",
    "corner_dl": "downstream left",
    "corner_dr": "downstream right",
}

MARKS = {
    "bolt": "bolt in concrete",
    "pin": "driven pin",
    "plate": "plate",
    "building": "part of a building",
    "rock": "rock",
    "post": "post",
    "other": "other mark",
}
"""What a benchmark may be."""

SEEPS = {
    "bank_left": "bank downstream, left",
    "bank_right": "bank downstream, right",
    "toe": "toe below the tail",
    "wing_left": "wing, left",
    "wing_right": "wing, right",
    "joint": "joint of flume and concrete",
    "vortex": "swirl upstream at a wall",
}
"""Where water may pass a structure instead of going through it."""

GAUGING_PARTS = {
    "systematic": "systematic",
    "verticals": "number of verticals",
    "panels": "depth, width, points, meter, exposure",
    "scatter": "scatter of the repeats",
    "volume": "volume",
    "timer": "stopwatch",
    "dose": "dose",
    "factor": "calibration factor",
    "background": "background and scatter of the readings",
    "drift": "drift of the background",
    "mixing": "mixing",
    "tail": "tail not seen",
    "injection": "feed rate",
    "injected": "concentration of the feed",
    "plateau": "plateau",
    "method": "method",
    "device": "device",
    "head": "head",
    "dimensions": "dimensions",
}
"""The parts of a check gauging's uncertainty."""
