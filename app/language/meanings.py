"""What every word beside a number means, in a sentence: the codebook's and nobody else's copy.

The words themselves are those of the registries; a test holds that each of them has its meaning.
"""

from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow

FLOW_MEANINGS = {
    Flow.FREE: "the tailwater does not reach back over the crest: head alone gives the discharge",
    Flow.ASSUMED_FREE: "nobody looked at the tailwater of a structure that can drown; rated free",
    Flow.SUBMERGED_CORRECTED: "drowned; the discharge is corrected for the tailwater that was read",
    Flow.SUBMERGED_UNDETERMINED: "drowned beyond what can be corrected: there is no discharge",
    Flow.NO_FLOW: "the water stands at or below the crest: 0, which is not the same as missing",
    Flow.NOT_RATED: "no discharge: a head, a rating or gauge zero is lacking, or out of reach",
}

FLAG_MEANINGS = {
    Flag.BELOW_RANGE: "head under the tested range of the structure; the uncertainty is wider",
    Flag.ABOVE_RANGE: "head over the tested range of the structure; the uncertainty is wider",
    Flag.APPROACH_TOO_FAST: "the approach flow is faster than the rating allows for",
    Flag.GEOMETRY_OUTSIDE_LIMITS: "dimensions lie outside the limits of the source of the rating",
    Flag.OUTSIDE_ISO_LIMITS: "outside the limits of the ISO standard that the rating follows",
    Flag.OUTSIDE_BOS_LIMITS: "outside the limits of the handbook that the rating follows",
    Flag.NO_CONTROL: "no section with critical flow was found: there is no discharge",
    Flag.HIGH_SUBMERGENCE: "tailwater over head above 0.90: a small error of level is a large one",
    Flag.TAILWATER_ABOVE_HEAD: "the tailwater was read higher than the head: a slip, or backflow",
    Flag.NEAR_MODULAR_LIMIT: "it may or may not have begun to drown; the uncertainty holds both",
    Flag.SETTLING: "the head was still moving towards a new level when it was read",
    Flag.SURGING: "the head moved to and fro while it was read",
    Flag.REPEATS_DISAGREE: "repeated readings lie farther apart than the office's limit",
    Flag.ZERO_OVERDUE: "the gauge zero was levelled longer ago than the office's limit",
    Flag.DIFFERS_FROM_SENSOR: "staff and sensor differ by more than the office's limit",
    Flag.UNSTEADY: "the flow was not steady over the observation",
    Flag.HEAD_MISSING: "there is no head at this time",
    Flag.HEAD_BELOW_ZERO: "the head lies under the crest",
    Flag.ISO_EXTENDED_RANGE: "in the wider range of the ISO standard, which adds 2 % uncertainty",
    Flag.HEADS_TOO_CLOSE: "head and tailwater are too close to tell the state of flow",
    Flag.CONTROL_UNDEFINED: "the section that controls cannot be said at this head",
    Flag.PHONE_DIFFERS: "the office's discharge differs from what the phone showed",
    Flag.BEYOND_LIMIT: "head so far above the range that no discharge is given",
    Flag.LIMIT_UNKNOWN: "it can drown and nobody knows from which tailwater on",
    Flag.DROWNING_DOUBTED: "stated never to drown, yet the tailwater stood high",
    Flag.UNUSUAL_HEAD: "outside the heads usual at this site, and nobody confirmed it",
    Flag.UNUSUAL_CONFIRMED: "outside the heads usual at this site, confirmed as read",
    Flag.TIME_AHEAD: "the time lies ahead of the office's: a wrong clock, or a slip",
}

HOW_MEANINGS = {
    How.MEASURED: "from a reading of the logger, with the layers in force",
    How.ESTIMATED: "put in by a person over a stretch without a good reading; never measured",
    How.MISSING: "marked as missing, or left blank by the logger",
    How.SPIKE: "marked as a spike and left out",
    How.NO_RECORD: "nothing is on record here; the gap is not bridged",
}

QUALITY_MEANINGS = {
    "good": "reviewed, as logged",
    "fair": "reviewed; corrected, or drowned and corrected for the tailwater",
    "unchecked": "nobody has reviewed its month",
    "estimated": "put in by a person; not measured",
    "not determined": "drowned beyond what can be corrected",
    "missing": "no value",
}

STATE_MEANINGS = {
    "draft": "the month is as it was made; nobody has reviewed it",
    "reviewed": "a person has looked through the month",
    "approved": "a person has signed the month off; it no longer follows new ratings by itself",
}

FIGURE_NOTES = {
    "missing values": "An empty cell, null, NaN or a nil value is not known. No flow is 0.",
    "times": "Instants are ISO 8601 in UTC. Site time is a fixed offset from UTC all year, without "
    "summer time; days, months and water years are those of site time.",
    "units": "SI: metres, cubic metres, seconds. Each column names its unit as a UCUM code.",
    "head": "Head is the height of the water above the crest: staff reading, or logged level, plus "
    "the offset of the gauge zero in force, plus corrections. Tailwater is above the same crest.",
    "uncertainty": "Expanded, coverage factor 2 (about 95 %). Of a discharge it combines the "
    "coefficient of the structure, its dimensions as built, the head (scaled by the slope of the "
    "rating) and, where drowned, the tailwater, as the root of the sum of their squares; outside "
    "the tested range it is widened.",
    "uncertainty of days": "Errors of rating, gauge zero and dimensions are common to all readings "
    "of a day and do not average out.",
    "append-only": "Observations are never changed. A correction is a new row with its reason; one "
    "that was withdrawn no longer counts, and stays on record.",
    "out of date": "Where a row names why it is out of date, what it was computed with no longer "
    "holds; its figures stay until somebody rates it again. An approved month is left.",
    "no certificate": "A figure here is a measurement with its uncertainty; nothing is certified.",
}
