"""Values and characters that nobody measures: what takes the place of others in a spoilt sheet."""

import tomllib

# Values where another stood: out of range, of another type, not numbers, hardly TOML, not TOML at all.
VALUES = (
    *(
        "0",
        "-0",
        "-1",
        "1",
        "3",
        "19.999",
        "20",
        "5000",
        "5000.001",
        "1e3",
        "1e308",
        "1e309",
        "-1e308",
        "5e-324",
        "1e-200",
    ),
    *("inf", "-inf", "nan", "-nan", "true", "false", "0x1F", "0o17", "0b1", "1_000", "1__0", "+5", "01", "1.", ".5"),
    *("9" * 400, "-" + "9" * 5000, "0x" + "f" * 300, "0b" + "1" * 3000, "1e" + "9" * 30, "9223372036854775808"),
    *(
        '""',
        '" "',
        '"mm"',
        '"in"',
        '"abc"',
        "'x'",
        '"20 1/2 in"',
        '"1/0 in"',
        '"0/0"',
        '"-3/8 in"',
        '"1/3"',
        '"20-1/2"',
    ),
    *('"52 cm"', '"1 m"', '"1e9 in"', '"9' + "9" * 38 + ' m"', '"20,5"', '"12 furlong"', '"\\u0000"', '"\\u001b[31m"'),
    *(
        '"１２"',
        '"½ in"',
        '"5″"',
        '"٣"',
        '"−5"',
        '"5\\u202e"',
        '"\\U0001F6CB"',
        '"a\\tb"',
        '"a\\nb"',
        '"' + "x" * 300 + '"',
    ),
    *(
        '"<script>alert(1)</script>"',
        '"../../x"',
        '"con"',
        '"."',
        '""""quoted""""',
        "'''three\nlines'''",
        '"%n%s"',
        '"{0}"',
    ),
    *(
        "[]",
        "[[]]",
        "[0]",
        "[0, 0]",
        "[0, 0, 0]",
        "[[0, 0], [0, 0]]",
        "[nan, 0]",
        '["1", 2]',
        "[1, [2, [3]]]",
        "[[0, 0], [1e308, 1]]",
    ),
    *(
        "{}",
        "{ a = 1 }",
        "{ front = 5 }",
        "[{}]",
        "1979-05-27",
        "07:32:00",
        "1979-05-27T07:32:00Z",
        "1979-05-27 07:32:00.999999",
    ),
    *(
        '"face"',
        '"all"',
        '"front"',
        '"left"',
        '"top"',
        '"along"',
        '"across"',
        '"auto"',
        '"cushion"',
        '"backrest"',
        '"springs"',
    ),
    *("[" * 60 + "]" * 60, "[" * 3000, "{a=" * 50 + "1" + "}" * 50, "", "=", "#", '"', "'", "[", "}", "\\"),
)
CHARACTERS = (
    "\x00\x01\x07\x08\x0b\x1b\x7f\x85\u00a0\u00e9\u0301\u200b\u2028\u202e\ufeff\ufffd\U0001f6cb=[]{}\"'#.,\n\r\t -_0aZ"
)


def _is_toml(value: str) -> bool:
    try:
        tomllib.loads(f"x = {value}")
    except (ValueError, RecursionError):
        return False
    return True


SOUND_VALUES = tuple(value for value in VALUES if _is_toml(value))
