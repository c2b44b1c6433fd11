"""One browser for all pages; each test opens a context of its own in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.pages.browser import running


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    with running() as found:
        yield found
