"""What the body models of all kinds of field entry share: strictness, bounded texts, instants."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

Text = Annotated[str, Field(max_length=4000)]
ShortText = Annotated[str, Field(max_length=200)]
Metres = Annotated[float, Field(ge=-50.0, le=50.0, allow_inf_nan=False)]
Uuid = Annotated[
    str, Field(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")
]
KeptId = Annotated[int, Field(ge=1, le=2**31 - 1)]


def instant(value: object) -> datetime:
    # Only text: a number would have to be guessed at as seconds or milliseconds.
    if not isinstance(value, str) or len(value) > 40:
        raise ValueError("an instant is ISO 8601 text with a zone")
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        raise ValueError("an instant is ISO 8601 text with a zone") from None
    if moment.tzinfo is None:
        raise ValueError("an instant is ISO 8601 text with a zone")
    if not 1990 <= moment.year <= 2100:
        raise ValueError("the year must lie between 1990 and 2100")
    return moment.astimezone(UTC)


Instant = Annotated[datetime, BeforeValidator(instant)]


class Strict(BaseModel):
    """No unknown keys, no silent conversion of types."""

    model_config = ConfigDict(extra="forbid", strict=True)


WaterCondition = Literal["weed", "debris", "silt", "ice", "surging"]


class Tailwater(Strict):
    """What is known of the tailwater: read, seen to drop freely, or not seen."""

    state: Literal["read", "clearly_free", "not_seen"] = "not_seen"
    staff_m: Metres | None = None
    text: ShortText | None = None

    @model_validator(mode="after")
    def read_has_a_figure(self) -> "Tailwater":
        if (self.state == "read") != (self.staff_m is not None):
            raise ValueError("a tailwater that was read has a figure, one that was not has none")
        return self


def rule_of(error: Mapping[str, Any]) -> str:
    """Return a broken rule of a model as words for people; a regular expression never is."""
    if error["type"] == "string_pattern_mismatch":
        return "it is not written as this field is written"
    said = str(error["msg"]).removeprefix("Value error, ")
    return re.sub("^Input should ", "must ", said)
