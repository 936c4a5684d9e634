"""The phone's process: started once for all questions, ended by its own handle."""

from collections.abc import Iterator

import pytest

from tests.differential.harness import Phone


@pytest.fixture(scope="session")
def phone() -> Iterator[Phone]:
    one = Phone()
    try:
        yield one
    finally:
        one.close()
