"""A part that did not come is an error, whatever its kind: nothing is clear of what was never measured."""

from __future__ import annotations

import pytest

from headergen.checks.judge import judge_made
from headergen.model import Straight
from tests.checks.small_header import draft


@pytest.mark.parametrize(
    ("name", "subject"),
    [("primary 2", "Primary 2"), ("collector main", "The collector main"), ("flange", "The flange")],
)
def test_it_is_named_with_why(name: str, subject: str) -> None:
    [finding] = judge_made(draft(*[[Straight(400.0)]] * 2), (), (), [(name, "its faces do not fit together.")])
    assert (finding.level, finding.where) == ("error", name)
    said = f"{subject} could not be made, so it is not checked: its faces do not fit together."
    assert finding.message == said
