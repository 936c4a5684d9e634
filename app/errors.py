"""Errors that tell a person what to do.

Every refusal names the field, the value, the rule it breaks and the remedy, so that the same
words serve the phone, the office page, the command line and a sync receipt.
"""


class SillbookError(Exception):
    """Base of every error this project raises on purpose."""


class BadInput(SillbookError, ValueError):  # noqa: N818 - reads as a sentence at the raise site
    """A value that a person can put right."""

    def __init__(self, field: str, value: object, rule: str, remedy: str) -> None:
        super().__init__(f"{field} {value}: {rule}. {remedy}")
        self.field = field
        self.value = value
        self.rule = rule
        self.remedy = remedy
        self.more: tuple[BadInput, ...] = ()  # what else is wrong with the same form

    @property
    def faults(self) -> "tuple[BadInput, ...]":
        """Everything that is wrong: this, and what was found beside it."""
        return (self, *self.more)

    def at(self, *fields: str) -> "BadInput | None":
        """Return the first fault of one of these fields, None where they are right."""
        return next((fault for fault in self.faults if fault.field in fields), None)

    def as_dict(self) -> dict[str, str]:
        """Return the four parts as text, for JSON answers."""
        return {
            "field": self.field,
            "value": str(self.value),
            "rule": self.rule,
            "remedy": self.remedy,
        }

    def told(self) -> dict[str, object]:
        """Return the four parts, and beside them what else is wrong with the form."""
        more = {"more": [fault.as_dict() for fault in self.more]} if self.more else {}
        return {**self.as_dict(), **more}


class TooLarge(BadInput):
    """More than is taken at a time: a body, a file, a picture."""


class NotFound(SillbookError, LookupError):  # noqa: N818
    """Something asked for by id or code is not there."""


class NotAllowed(SillbookError, PermissionError):  # noqa: N818
    """The person signed in may not do this."""
