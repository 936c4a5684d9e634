"""Body of a plan asked for on a phone: the texts of the office's own form, worked out there."""

from typing import Annotated

from pydantic import Field

from app.services.entries.bodies.base import Strict

FormKey = Annotated[str, Field(pattern=r"^[a-z0-9_]{1,40}$")]
FormText = Annotated[str, Field(max_length=4000)]


class PlanAsked(Strict):
    """Form names and texts as typed; the server reads them as it reads the office's form."""

    inputs: Annotated[dict[FormKey, FormText], Field(max_length=60)]
