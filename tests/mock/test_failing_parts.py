"""A part of the fit mock that fails is named, and all others are made and laid out."""

from __future__ import annotations

import pytest

from headergen.mock import build
from headergen.mock.build import make_mock
from headergen.mock.part import MockPart
from headergen.mock.solid import UnsoundPartError
from headergen.model import MockSettings
from tests.mock.random_headers import random_header

SETTINGS = MockSettings(cut_guides=True)


def names(parts: tuple[MockPart, ...]) -> list[str]:
    return [part.name for part in parts]


@pytest.mark.slow
def test_one_tube_part_and_the_guides(monkeypatch: pytest.MonkeyPatch) -> None:
    header, sound = random_header(1), build.tube_part
    whole = make_mock(header, SETTINGS)
    one = next(part.name for part in whole.parts if part.name.startswith("P1-"))

    def once_unsound(*arguments: object) -> MockPart:
        if arguments[-1] == one:
            raise UnsoundPartError(f"{one}: its skin is open")
        return sound(*arguments)  # type: ignore[arg-type]

    def crossed(*_: object) -> None:
        raise IndexError("list index out of range")

    monkeypatch.setattr(build, "tube_part", once_unsound)
    monkeypatch.setattr(build, "guides_of", crossed)
    failed: dict[str, str] = {}
    mock = make_mock(header, SETTINGS, on_failure=lambda name, error: failed.update({name: str(error)}))
    assert failed == {one: f"{one}: its skin is open", "cut guides": "list index out of range"}
    assert names(mock.parts) == [name for name in names(whole.parts) if name != one]
    assert names(mock.locating) == names(whole.locating) and mock.guides == () and mock.cuts == ()
    assert len(mock.placed) == len(mock.facts) == len(mock.printed)
    assert all(fact.stress == 0.0 for fact in mock.facts), "what hangs on a part is not known without one of them"
    with pytest.raises(UnsoundPartError):
        make_mock(header, SETTINGS)
