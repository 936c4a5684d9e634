"""How far a long act has come; what it raises stops the act."""

from collections.abc import Callable

Progress = Callable[[int, int], None]
"""Called with what is done and the whole of it."""
