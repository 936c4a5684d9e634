"""Pages as their reader sees them: white space that a formatter lays between tags is no claim."""

import re


def tight(page: str) -> str:
    """Return a page without white space beside its tags, and single spaces within its text."""
    return re.sub(r"\s*(<[^>]*>)\s*", r"\1", re.sub(r"\s+", " ", page))
