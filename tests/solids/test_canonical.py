"""STEP text in canonical form, on texts small enough to read."""

from __future__ import annotations

import pytest

from headergen.solids.canonical import Stamp, canonical_step

STAMP = Stamp("tube.step", "2026-05-01T00:00:00", "headergen test")
HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('Some Model'),'2;1');
FILE_NAME('raw','2026-11-25T09:35:27',('Author'),(
    'Somebody'),'translator 7','Somebody','Unknown');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214
 1 1 1 1 }'));
ENDSEC;
DATA;
"""
TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"
COLOUR = "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"


def data(body: str) -> list[str]:
    text = canonical_step(HEAD + body + TAIL, STAMP)
    return text.partition("DATA;\n")[2].partition("ENDSEC;")[0].splitlines()


def test_the_header_is_written_anew() -> None:
    head = canonical_step(HEAD + "#1 = A();\n" + TAIL, STAMP).partition("DATA;")[0].splitlines()
    assert head == [
        "ISO-10303-21;",
        "HEADER;",
        "FILE_DESCRIPTION(('exact solids in millimetres'),'2;1');",
        "FILE_NAME('tube.step','2026-05-01T00:00:00',(''),(''),'translator 7','headergen test','');",
        "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));",
        "ENDSEC;",
    ]


def test_numbers_count_along_the_walk_and_gaps_close() -> None:
    assert data("#7 = LEAF('x');\n#20 = ROOT(#30,(#7));\n#30 = NODE(#7,$);\n") == [
        "#1 = ROOT(#2,(#3));",
        "#2 = NODE(#3,$);",
        "#3 = LEAF('x');",
    ]


def test_what_looks_like_syntax_in_a_string_is_left_alone() -> None:
    assert data("#5 = A('#9 = B; it''s',#6);\n#6 = C('');\n") == ["#1 = A('#9 = B; it''s',#2);", "#2 = C('');"]


def test_broken_lines_are_joined_also_inside_strings() -> None:
    assert data("#1 = ( A() \nB(1.,\n  2.) C('one \ntwo') );\n") == ["#1 = (A()B(1.,2.)C('one two'));"]


def test_letters_beyond_ascii_are_written_in_the_basic_alphabet() -> None:
    # ISO 10303-21 §6.4.3: \X2\ with four hexadecimal digits a letter, \X4\ with eight; ö is U+00F6, 🔧 is U+1F527
    assert data("#1 = A('Bö',' 🔧');\n") == [r"#1 = A('B\X2\00F6\X0\',' \X4\0001F527\X0\');"]
    head = canonical_step(HEAD + "#1 = A();\n" + TAIL, Stamp("it's ö.step", "t", "s"))
    assert r"FILE_NAME('it''s \X2\00F6\X0\.step','t'" in head


def test_an_occurrence_is_known_by_its_name_not_by_a_counter() -> None:
    line = "#1 = NEXT_ASSEMBLY_USAGE_OCCURRENCE('{}','primary 2','',#2,#3,$);\n#2 = A();\n#3 = B();\n"
    assert data(line.format(17)) == data(line.format(1))
    assert data(line.format(17))[0] == "#1 = NEXT_ASSEMBLY_USAGE_OCCURRENCE('primary 2','primary 2','',#2,#3,$);"


def test_colours_follow_their_shapes_whatever_their_order_was() -> None:
    shapes = "#1 = SHAPE(#2);\n#2 = SOLID(1.);\n#3 = SHAPE(#4);\n#4 = SOLID(2.);\n"
    first = f"#5 = {COLOUR}((#6));\n#6 = STYLED_ITEM('',#9,#2);\n"
    second = f"#7 = {COLOUR}((#8));\n#8 = STYLED_ITEM('',#9,#4);\n"
    steel = "#9 = COLOUR_RGB('',0.6,0.6,0.6);\n"
    assert data(shapes + first + second + steel) == data(shapes + second + first + steel)
    assert data(shapes + second + first + steel)[4:] == [
        f"#5 = {COLOUR}((#6));",
        "#6 = STYLED_ITEM('',#7,#2);",
        "#7 = COLOUR_RGB('',0.6,0.6,0.6);",
        f"#8 = {COLOUR}((#9));",
        "#9 = STYLED_ITEM('',#7,#4);",
    ]


@pytest.mark.parametrize("text", ["", "solid tube", "ISO-10303-21;\nHEADER;\n", "ISO-10303-21;DATA;ENDSEC;"])
def test_what_is_no_step_file_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="STEP file"):
        canonical_step(text, STAMP)
