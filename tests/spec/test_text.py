"""The strict YAML reader: values, marks, and what it refuses."""

from __future__ import annotations

import random

import pytest
import yaml
from small_spec import SMALL

from headergen.spec.complaint import SpecError, complaint_text, path_text
from headergen.spec.text import LARGEST, Text, read_text


def text_of(content: str) -> Text:
    return read_text(content.encode(), "spec.yaml")


def test_words_mean_what_they_look_like() -> None:
    """YAML 1.2 core schema: 1e3 is a number, and on, yes and dates are text (unlike YAML 1.1)."""
    text = text_of("[1, -2, 1.5, .5, 1e3, 1.5E-2, true, false, on, No, 2026-03-14, '12', 12 in, 1-5/8 in, 0, -0.5]")
    assert text.complaints == ()
    wanted = [1, -2, 1.5, 0.5, 1000.0, 0.015, True, False, "on", "No", "2026-03-14", "12", "12 in", "1-5/8 in", 0, -0.5]
    assert text.data == wanted
    assert [type(value) for value in text.data] == [type(value) for value in wanted]


def test_agrees_with_the_library_where_both_read_the_same() -> None:
    text = text_of(SMALL.replace("2026-03-14", "'2026-03-14'"))
    known = yaml.safe_load(SMALL.replace("2026-03-14", "'2026-03-14'"))
    known["flange"]["ports"] = {str(key): value for key, value in known["flange"]["ports"].items()}
    known["primaries"] = {str(key): value for key, value in known["primaries"].items()}
    assert text.data == known


def test_marks_say_line_and_column_of_values_and_of_keys() -> None:
    text = text_of("a: 1\nbb:\n  - {c: 2, d: [3, 4]}\n")
    assert text.marks[("a",)] == (1, 4)
    assert text.key_marks[("bb",)] == (2, 1)
    assert text.marks[("bb", 0)] == (3, 5)
    assert text.marks[("bb", 0, "c")] == (3, 9)
    assert text.key_marks[("bb", 0, "d")] == (3, 12)
    assert text.marks[("bb", 0, "d", 1)] == (3, 19)


def test_columns_count_characters_not_bytes() -> None:
    assert text_of("{ä€😀: 1, b: 2}").marks[("b",)] == (1, 13)


def test_a_byte_order_mark_and_windows_line_ends_change_nothing() -> None:
    plain = text_of("a: 1\nb: [2]\n")
    marked = read_text(b"\xef\xbb\xbfa: 1\r\nb: [2]\r\n", "spec.yaml")
    assert (marked.data, marked.marks) == (plain.data, plain.marks)


def test_everything_refused_is_told_at_once_and_the_rest_is_read() -> None:
    text = text_of("a: 010\nb: {x: 1,5, y: .nan, z: 3}\na: 2\nc: !!int 3\nd:\n<<: 1\n")
    assert [(c.line, c.column) for c in text.complaints] == [(1, 4), (2, 8), (2, 16), (3, 1), (4, 4), (5, 1), (6, 1)]
    assert text.data == {"a": None, "b": {"x": None, "y": None, "z": 3}, "c": None, "d": None}


def test_a_caret_stays_under_its_place_in_a_long_line() -> None:
    """Lines longer than a terminal are cut around the place; the caret still points at the word."""
    content = "a: [" + "1, " * 200 + "0x1F, " + "1, " * 200 + "1]"
    (complaint,) = text_of(content).complaints
    _, shown, caret = complaint_text(complaint).split("\n")[:3]
    assert shown[caret.index("^") :].startswith("0x1F,")
    assert len(shown) < 200


def test_terminal_codes_in_a_file_are_not_passed_on() -> None:
    with pytest.raises(SpecError) as raised:
        text_of("a: \x1b[31mred\n")
    assert "\x1b" not in str(raised.value)


def test_too_large_a_file_is_not_parsed() -> None:
    with pytest.raises(SpecError, match=f"no spec needs more than {LARGEST}"):
        read_text(b"#" * (LARGEST + 1), "spec.yaml")


@pytest.mark.parametrize("content", ["[" * 100_000, "{a: " * 50_000, "- " * 50_000, "[" + "1," * 60_000 + "1]"])
def test_no_file_is_too_wild(content: str) -> None:
    with pytest.raises(SpecError, match="no spec needs"):
        text_of(content)


def test_aliases_do_not_unfold() -> None:
    """Nine levels of nine aliases each would be 387 million values."""
    levels = ["a0: &a0 [1]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    text = text_of("\n".join(levels))
    assert len(text.complaints) == 10 + 9 * 9


def test_places_are_said_in_words_and_counted_from_1() -> None:
    assert path_text(("primaries", "2", 2, "bend")) == "primaries.2 step 3 bend"
    assert path_text(("primaries", "2", "path", 0, "straight")) == "primaries.2 step 1 straight"
    assert path_text(("primaries", "2", "points", 3, 0)) == "primaries.2 point 4 value 1"
    assert path_text(("chassis", 4, "tube", "points", 1)) == "chassis item 5 tube point 2"
    assert path_text(("flange", "ports", "1", "at", 1)) == "flange.ports.1.at value 2"
    assert path_text(("collectors", "main", "bores", 0)) == "collectors.main bore 1"
    assert path_text(("bosses", 1, "thread")) == "boss 2 thread"
    assert path_text(("plugs", 0, "axis", 2)) == "plug 1 axis value 3"
    assert path_text(()) == ""


def test_random_damage_never_brings_anything_but_a_complaint() -> None:
    """1000 seeded mutants of a good spec, as text: each reads, or is refused with a place inside it."""
    chooser = random.Random(42)
    scraps = [*"{}[]:,-#&*!|>'\"%@` \t\n?~", "\n  ", "1e", "0x", "<<: ", ": ", "- ", "\x00", "\u2028", "ä"]
    for _ in range(1000):
        content = SMALL
        for _ in range(chooser.randint(1, 4)):
            at = chooser.randrange(len(content))
            content = content[:at] + chooser.choice(scraps) + content[at + chooser.randint(0, 2) :]
        try:
            text_of(content)
        except SpecError as error:
            for complaint in error.complaints:
                assert 1 <= (complaint.line or 0) <= content.count("\n") + 2
                assert 1 <= (complaint.column or 0) <= len(complaint.source_line) + 1


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_named_once_and_nothing_of_it_shown(encoding: str) -> None:
    with pytest.raises(SpecError) as caught:
        read_text(SMALL.encode(encoding), "spec.yaml")
    said = str(caught.value)
    assert said == (
        "spec.yaml:1:1: the file is UTF-16 text, with two bytes for each character\n"
        "    hint: save it with the encoding UTF-8"
    )
