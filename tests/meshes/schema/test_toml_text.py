"""Texts of sheets: bounded in depth before they are read, whatever the quotes; of foreign files no line is shown."""

import os
import re
import time
import tomllib
import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.leather.card_file import read_cards
from meshes.base.problems import ProblemError
from meshes.schema.toml_text import DEEPEST, LARGEST_SHEET_BYTES, parsed, text_of
from meshes.sheet.read import read_sheet
from tests.sheets import GOOD

DEEP = {
    "lists": lambda n: "a = " + "[" * n + "]" * n,
    "tables in braces": lambda n: "a = " + "{a = " * n + "1" + "}" * n,
    "header": lambda n: "[" + ".".join("a" * n) + "]",
    "headers of many": lambda n: "[[" + " . ".join("a" * n) + "]]",
    "keys": lambda n: ".".join("a" * n) + " = 1",
    "quoted keys": lambda n: ".".join(['"a.b"'] * n) + " = 1",
    "mixed": lambda n: "a = " + "[{a.b = " * (n // 2) + "1" + "}]" * (n // 2),
    "behind a quote": lambda n: 'x = {y = """"a"""", ' + ".".join("a" * n) + " = 1}",
    "behind apostrophes": lambda n: "x = {y = ''''a'''', " + ".".join("a" * n) + " = 1}",
    "behind an escape": lambda n: 'x = {y = "\\\\", ' + ".".join("a" * n) + " = 1}",
}


@pytest.mark.parametrize("kind", DEEP)
@pytest.mark.parametrize("depth", [400, 5000, 36_000])
@pytest.mark.parametrize("read", [read_sheet, read_cards])
def test_depth_of_any_kind_is_refused_at_once_and_without_memory(kind, depth, read, tmp_path):
    path = tmp_path / "deep.toml"
    path.write_text("# first\n" + DEEP[kind](depth) + "\n")
    tracemalloc.start()
    begin = time.process_time()
    with pytest.raises(ProblemError) as fault:
        read(path)
    spent, most = time.process_time() - begin, tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert [(p.code, p.line) for p in fault.value.problems] == [("S005", 2)]
    assert spent < 2.0
    assert most < 30 * path.stat().st_size + 10**6


@pytest.mark.parametrize("kind", DEEP)
def test_what_is_flat_enough_is_read_as_the_standard_reader_does(kind):
    text = DEEP[kind](4)
    assert parsed(text, "a") == tomllib.loads(text)


@given(st.text(st.sampled_from("[]{}.,=#\"'\\\na "), max_size=60))
def test_what_stands_in_quotes_or_remarks_is_not_counted(inside):
    marks = "[{." * DEEPEST
    quoted = inside.replace("\\", "").replace('"', "").replace("\n", " ")
    for text in (f'a = "{quoted}{marks}"', f"# {quoted}{marks}\na = 1", f'a = """{quoted}\n{marks}\n"""'):
        assert parsed(text, "a") == tomllib.loads(text)


def test_a_pipe_or_a_device_is_refused_as_sheet_and_as_card_file(tmp_path):
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    (tmp_path / "zero.toml").symlink_to("/dev/zero")
    for path in (pipe, tmp_path / "zero.toml"):
        for read in (read_sheet, read_cards):
            with pytest.raises(ProblemError, match=r"S001.*no regular file"):
                read(path)


def test_the_largest_text_is_taken_and_one_more_byte_is_not(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * LARGEST_SHEET_BYTES)
    assert len(text_of(path)) == LARGEST_SHEET_BYTES
    path.write_bytes(b"#" * (LARGEST_SHEET_BYTES + 1))
    with pytest.raises(ProblemError, match="S003"):
        text_of(path)


SECRET = "swordfish-0815"


@pytest.mark.parametrize(
    "text",
    [
        f"password: {SECRET}\n",
        f"{SECRET}\n",
        f"password = {SECRET}\n",
        f'password = "{SECRET}"\n',
        f'"{SECRET}" = 1\n',
        f'card = "{SECRET}"\n',
        f'unit = "{SECRET}"\n',
        f'[server]\n"{SECRET}" = "{SECRET}"\n',
        f'[[card]]\nkey = "{SECRET}"\n',
        f'card = ["{SECRET}"]\n',
        f'[card]\npassword = "{SECRET}"\n',
        f'["{SECRET}"]\nx = 1\n[card.a]\nthickness = 1\n',
    ],
)
def test_a_card_file_that_is_something_else_is_not_shown(text, tmp_path):
    secret = tmp_path / "other.toml"
    secret.write_text(text)
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(GOOD.replace('leather = "furniture"', 'leather = "other.toml"'))
    from flatten.leather.card_file import card_from_sheet

    with pytest.raises(ProblemError) as fault:
        card_from_sheet(read_sheet(sheet))
    said = str(fault.value)
    assert SECRET not in said
    assert "password" not in said
    assert str(secret) in said


MANY = {
    "keys": (lambda n: "".join(f"k{k} = 1\n" for k in range(n)), 59_000),
    "pads": (lambda n: 'name = "a"\n' + "[[pad]]\n" * n, 25_000),
    "no pads": (lambda n: 'name = "a"\npad = [' + "1," * n + "]\n", 55_000),
    "points": (lambda n: 'name = "a"\n[[pad]]\noutline.points = [' + "[1,2]," * n + "]\n", 19_000),
    "cards": (lambda n: "".join(f"[card.k{k}]\n" for k in range(n)), 55_000),
}


@pytest.mark.parametrize("kind", MANY)
@pytest.mark.parametrize("read", [read_sheet, read_cards])
def test_many_faults_are_counted_and_not_all_put_into_words(kind, read, tmp_path):
    make, count = MANY[kind]
    path = tmp_path / "many.toml"
    path.write_text(make(count))
    begin = time.process_time()
    with pytest.raises(ProblemError) as fault:
        read(path)
    # On one core it takes a second or two; without a bound it is minutes.
    assert time.process_time() - begin < 10.0
    assert len(str(fault.value).splitlines()) <= 51
    if (kind, read) in (("keys", read_sheet), ("pads", read_sheet), ("cards", read_cards)):
        more = next(problem.text for problem in fault.value.problems if problem.code == "S009")
        told = len(fault.value.problems) - 1
        assert int(re.search(r"and (\d+) more", more)[1]) + told >= count
    path.write_text(make(4 * count))
    with pytest.raises(ProblemError, match="S003"):
        read(path)


@pytest.mark.parametrize("separator", ["\x85", "\u2028", "\u2029"])
def test_a_fault_stands_on_a_line_as_the_reader_counts_them(separator):
    # In TOML only a line feed ends a line; an unclosed bracket is found at the end of the text.
    text = f"# one{separator}still one\nname = 'a'\n"
    for fault, line in (("points = [1,\n", 3), ("\nx = @\n", 4)):
        with pytest.raises(ProblemError) as caught:
            parsed(text + fault, "a.toml")
        assert caught.value.problems[0].line == line
        assert fault.split()[0] in caught.value.problems[0].text


@pytest.mark.parametrize("kind", ["lists", "tables in braces", "header", "keys", "quoted keys"])
def test_the_deepest_that_is_read_is_the_deepest_allowed(kind):
    """Dots count one for each key but the first, brackets one each; a header has its own bracket besides."""
    allowed = {"lists": DEEPEST, "tables in braces": DEEPEST, "header": DEEPEST, "keys": DEEPEST + 1}
    most = allowed.get(kind, DEEPEST + 1)
    text = DEEP[kind](most)
    assert parsed(text, "a") == tomllib.loads(text)
    with pytest.raises(ProblemError):
        parsed(DEEP[kind](most + 1), "a")
    # Depth is left again: any number of shallow ones may follow each other, and a bracket begins anew.
    assert parsed("\n".join(f"a{k} = [[{k}], {{b.c.d = 1}}]" for k in range(3 * DEEPEST)), "a")
    dotted = ".".join("b" * (DEEPEST - 1))
    assert parsed(f"{dotted} = [1]", "a") == tomllib.loads(f"{dotted} = [1]")


@pytest.mark.parametrize(
    ("text", "line"),
    [("a = 1\nb = [1,\n2,\n", 3), ("a = 1\n\n[t\n", 3), ("a = \n", 1), ('x = 1\n\ny = """\nno end\n', 4), ("= 1", 1)],
)
def test_a_fault_is_told_at_its_line_or_at_the_last(text, line):
    with pytest.raises(ProblemError) as fault:
        parsed(text, "sheet.toml")
    (problem,) = fault.value.problems
    assert (problem.line, problem.code[:3]) == (line, "S00")
