"""Lines of keys and values in TOML text of every kind."""

import tomllib

from meshes.schema.lines import toml_lines

EVERY_WAY = '''\
a = 1  # a remark with "quotes" and [brackets]
"b.c" . 'd' = """
[not.a.table]
""""
e = { f = 1, g.h = [1, {i = "}"}] }   # inline
[t . u]
x = [ # remark ]
  1,
  [2,
   3], '[', "\\"",
]
y = \'\'\'
z = 1
\'\'\'
[[v]]
k = 1979-05-27 07:32:00Z
[v.w]
k = +1.5
[[v.many]]
k = 1
[[v.many]]
k = 2
[[v]]
[[v.many]]
k = 3
'''


def test_lines_of_everything_toml_can_say():
    lines = toml_lines(EVERY_WAY)
    expected = {
        ("a",): 1,
        ("b.c", "d"): 2,
        ("e", "f"): 5,
        ("e", "g", "h"): 5,
        ("e", "g", "h", 1, "i"): 5,
        ("t", "u"): 6,
        ("t", "u", "x"): 7,
        ("t", "u", "x", 0): 8,
        ("t", "u", "x", 1): 9,
        ("t", "u", "x", 1, 1): 10,
        ("t", "u", "x", 2): 10,
        ("t", "u", "x", 3): 10,
        ("t", "u", "y"): 12,
        ("v", 0): 15,
        ("v", 0, "k"): 16,
        ("v", 0, "w", "k"): 18,
        ("v", 0, "many", 1): 21,
        ("v", 0, "many", 1, "k"): 22,
        ("v", 1): 23,
        ("v", 1, "many", 0, "k"): 25,
    }
    assert {path: lines.get(path) for path in expected} == expected
    assert not any("z" in path or "not" in path for path in lines)


def places(value, path=()):
    """Every key and every item of a list in what the standard reader reads."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return {path} - {()} | {place for key, item in inner for place in places(item, (*path, key))}


def test_places_are_those_of_the_standard_reader_and_no_others():
    assert set(toml_lines(EVERY_WAY)) == places(tomllib.loads(EVERY_WAY))
