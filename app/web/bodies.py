"""How much of a request's body is read: counted while it streams, cut at the limit of its route.

A meter stands between the server and the application, so that what is too large is refused before
it is in memory. It starts at what a stranger may send; the route raises it once the person is
known. A length that is declared beyond the limit is refused before the first byte is read.
"""

from collections.abc import Callable
from typing import Any, TypeVar

from starlette.exceptions import HTTPException
from starlette.types import Message, Receive

from app.errors import BadInput, TooLarge

STRANGER = 64 * 1024
FORM = 1024 * 1024
FORM_AROUND = 64 * 1024  # what a form adds around its file
SHORTER = "Send less at a time."

Endpoint = TypeVar("Endpoint", bound=Callable[..., Any])


class BodyMeter:
    """Passes the messages of a request on until its body is over the limit.

    Once the answer has begun nobody wants the body any more: what still comes is dropped, so that
    whoever waits for the other side to leave is not disturbed.
    """

    def __init__(self, receive: Receive, declared: bytes = b"") -> None:
        self._receive = receive
        self.declared = int(declared) if declared.isdigit() and len(declared) < 19 else 0
        self.count = 0
        self.limit = STRANGER
        self.remedy = "Sign in first."
        self.answered = False
        self.refused: TooLarge | None = None

    def allow(self, limit: int, remedy: str = SHORTER) -> None:
        """Set how many bytes may come, and what to do when there are more."""
        self.limit, self.remedy = limit, remedy

    async def receive(self) -> Message:
        """Return the next message of the request.

        Raises
        ------
        TooLarge
            When the body is declared or found to be larger than the limit.
        """
        if not self.answered and self.declared > self.limit:
            raise self.refusal(self.declared)
        message = await self._receive()
        if message["type"] == "http.request":
            if self.answered:
                return {**message, "body": b""}
            self.count += len(message.get("body", b""))
            if self.count > self.limit:
                raise self.refusal(self.count)
        return message

    def refusal(self, size: int) -> TooLarge:
        rule = f"at most {self.limit // 1024:,} kB are taken here"
        self.refused = TooLarge("body", f"{size:,} bytes", rule, self.remedy)
        return self.refused

    def words_for(self, error: HTTPException) -> BadInput:
        """Return what a form's parser complained of, in the words of this house."""
        if self.refused is not None:
            return self.refused
        rule = str(error.detail).rstrip(".").lower()
        if "maximum" in rule:
            return TooLarge("form", "", rule, SHORTER)
        return BadInput("form", "", rule, "Load the page again and send once more.")


def largest(limit: int, remedy: str = SHORTER) -> Callable[[Endpoint], Endpoint]:
    """Let a route take bodies of this size from people who may call it."""

    def mark(endpoint: Endpoint) -> Endpoint:
        endpoint.__largest__ = (limit, remedy)  # type: ignore[attr-defined]
        return endpoint

    return mark


def allowed_to(endpoint: Callable[..., Any]) -> tuple[int, str]:
    """Return what a route takes: what it is marked with, else what a page's form may hold."""
    found: tuple[int, str] = getattr(endpoint, "__largest__", (FORM, SHORTER))
    return found
