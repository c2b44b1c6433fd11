"""The file of a study, and values put into a spec by their keys."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from headergen.model.study import SpecChange
from headergen.spec.complaint import SpecError
from headergen.spec.keys import KeyLeadsNowhereError, with_values
from headergen.spec.schema import study_schema
from headergen.spec.study import read_study

SPECS = Path(__file__).parents[2] / "specs"
BODY = """\
# first
job: {title: A}          # a title
length:
  target: 620            # of all
  tolerance: 2

chassis:                 # around it
  - name: rail
    cylinder: {diameter: 40}
  - {name: head, clearance: 10}
"""
CHANGES = [
    ("length.target", 640),
    ("length", {"target": "25 in"}),
    ("length.of", [1, 2]),
    ("job.title", "B: C"),
    ("job.revision", "on"),
    ("chassis.rail.cylinder.diameter", 38.1),
    ("chassis.2.clearance", 12),
    ("chassis.head.free", True),
    ("chassis.rail.clearance", 3),
    ("limits.between_tubes", 5),
    ("chassis", []),
]


def changed(data: object, key: str, value: object) -> None:
    """The change, made in the values instead of the text."""
    *above, last = key.split(".")
    for part in above:
        if isinstance(data, list):
            data = next((each for each in data if each["name"] == part), None) or data[int(part) - 1]
        else:
            assert isinstance(data, dict)
            data = data.setdefault(part, {})
    assert isinstance(data, dict)
    data[last] = value


@pytest.mark.parametrize(("key", "value"), CHANGES, ids=[key for key, _ in CHANGES])
def test_a_value_is_put_in_and_all_else_stays(key: str, value: object) -> None:
    wanted = yaml.safe_load(BODY)
    changed(wanted, key, value)
    text = with_values(BODY, [SpecChange(key, value)])
    assert yaml.safe_load(text) == wanted
    inside = key == "length"  # its comment goes with the mapping that it stands in
    assert text.count("#") == BODY.count("#") - inside, "all other comments stay"


def test_changes_are_made_one_after_the_other() -> None:
    text = with_values(BODY, [SpecChange(key, value) for key, value in CHANGES])
    wanted = yaml.safe_load(BODY)
    for key, value in CHANGES:
        changed(wanted, key, value)
    assert yaml.safe_load(text) == wanted


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("chassis.floor.clearance", "chassis has no floor"),
        ("chassis.3.clearance", "chassis has no 3"),
        ("length.target.low", "length.target is a single value"),
    ],
)
def test_a_key_that_leads_nowhere_is_named(key: str, said: str) -> None:
    with pytest.raises(KeyLeadsNowhereError, match=said):
        with_values(BODY, [SpecChange(key, 1)])


def study_of(text: str, tmp_path: Path) -> Path:
    (tmp_path / "s.yaml").write_text(f"format: 1\nspec: a.yaml\n{text}", encoding="utf-8")
    return tmp_path / "s.yaml"


def test_a_grid_has_every_value_with_every_other(tmp_path: Path) -> None:
    text = "vary:\n  a: {key: x, values: [1, 2.5]}\n  b: {choices: {low: {y: 1, z: 2}, high: {y: 3}}}\n"
    study, _ = read_study(study_of(text, tmp_path))
    assert [case.name for case in study.cases] == ["a_1_b_low", "a_1_b_high", "a_2.5_b_low", "a_2.5_b_high"]
    assert [(each.key, each.value) for each in study.cases[2].changes] == [("x", 2.5), ("y", 1), ("z", 2)]
    assert dict(study.better) == {"degrees": True, "joints": True, "gap": False}


def test_a_list_of_cases_has_their_names(tmp_path: Path) -> None:
    study, _ = read_study(study_of("cases: {near: {x: [1, 2, 3]}, far: {x: [3, 2, 1], y: 1}}\n", tmp_path))
    assert [case.name for case in study.cases] == ["near", "far"]
    assert study.cases[1].changes[0].value == [3, 2, 1]


BAD = {
    "neither": ("seconds: 5\n", "a study needs one of vary or cases"),
    "both": ("vary: {a: {key: x, values: [1]}}\ncases: {b: {x: 1}}\n", "s.yaml:4:8 cases: a study is vary and cases"),
    "unknown": ("cases: {b: {x: 1}}\nsecond: 5\n", "s.yaml:4:1 second: second is not a key here"),
    "no key": ("vary: {a: {values: [1]}}\n", "s.yaml:3:11 vary.a: values need the key that they are for"),
    "key of choices": ("vary: {a: {key: x, choices: {b: {x: 1}}}}\n", "choices name their keys themselves"),
    "two ways": ("vary: {a: {key: x, values: [1], choices: {b: {x: 1}}}}\n", "what varies is values and choices"),
    "empty": ("cases: {b: {}}\n", "at least 1 entry is required here"),
    "no values": ("vary: {a: {key: x, values: []}}\n", "at least 1 entry is required here"),
    "twice": ("vary: {a: {key: x, values: [1, 1]}}\n", "s.yaml:3:32 vary.a.values value 2: two cases are called a_1"),
    "a name": ("cases: {a/b: {x: 1}}\n", "a/b cannot be the name of a file"),
    "a device": ("cases: {con: {x: 1}}\n", "con cannot be the name of a file"),
    "routed": ("cases: {a_routed: {x: 1}}\n", "a_routed is the name of a routed file"),
    "too many": (
        "vary: {" + ", ".join(f"{n}: {{key: x.{n}, values: [1, 2, 3, 4, 5, 6, 7]}}" for n in "abcd") + "}\n",
        "s.yaml:3:7 vary: there are more than 2000 cases",
    ),
    "seconds": ("cases: {b: {x: 1}}\nseconds: 0\n", "s.yaml:4:10 seconds: 0 is less than 1"),
    "better": ("cases: {b: {x: 1}}\nbetter: {gap: larger}\n", '"larger" is not one of less, more'),
    "not better": (
        "cases: {b: {x: 1}}\nbetter: {mass: less}\n",
        '"mass" is not one of length, degrees, bends, joints, gap',
    ),
    "a list": ("cases: [b]\n", "keys with values are required here"),
    "no value": ("cases: {b: {x: }}\n", "x has no value"),
}


@pytest.mark.parametrize(("text", "said"), BAD.values(), ids=list(BAD))
def test_what_is_wrong_is_told_with_its_place(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(SpecError) as wrong:
        read_study(study_of(text, tmp_path))
    assert said in str(wrong.value)
    assert "Traceback" not in str(wrong.value)


def test_the_schema_beside_the_specs_is_that_of_the_entries() -> None:
    kept = (SPECS / "studies" / "study.schema.json").read_text(encoding="utf-8")
    assert kept == json.dumps(study_schema(), indent=2, ensure_ascii=False) + "\n"
    jsonschema.Draft202012Validator.check_schema(study_schema())
    guide = yaml.safe_load((SPECS / "studies" / "guide_study.yaml").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(study_schema()).validate(guide)
    assert not jsonschema.Draft202012Validator(study_schema()).is_valid({**guide, "second": 5})


def test_a_spec_in_place_of_a_study_is_told() -> None:
    with pytest.raises(SpecError, match="this is a spec, not a study") as wrong:
        read_study(SPECS / "bogbean.yaml")
    assert len(wrong.value.complaints) == 1
