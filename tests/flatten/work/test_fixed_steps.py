"""How edges are fixed: every edge of a kind counted once, its mirror image with it, and no other."""

from types import SimpleNamespace as Made

import pytest

from flatten.work.slack import PulledEdge
from flatten.work.tacking_steps import _how_fixed
from meshes.records.frame import Fixings


def edge(kind, length_mm, *, twin=False):
    return PulledEdge("band", "edge", kind, "front", twin, 10.0, length_mm, 0.2, length_mm)


def said(*edges, fixings=None):
    return list(_how_fixed(Made(pad=Made(fixings=fixings or Fixings())), edges))


def test_rings_and_wire_are_of_ringed_edges_alone_and_of_both_of_a_pair():
    (one,) = said(edge("ringed", 500.0))
    (pair,) = said(edge("ringed", 500.0, twin=True))
    both = said(edge("ringed", 500.0), edge("ringed", 500.0), edge("pulled", 900.0), edge("ringed", 300.0, twin=True))
    words = next(line for line in both if "hog rings" in line)
    rings = {key: int(line.split(" with ")[1].split()[0]) for key, line in (("one", one), ("pair", pair))}
    assert rings["pair"] == 2 * rings["one"]
    (short,) = said(edge("ringed", 300.0))
    third = int(short.split(" with ")[1].split()[0])
    assert int(words.split(" with ")[1].split()[0]) == 2 * rings["one"] + 2 * third
    assert "500 mm in all" in one
    assert "1000 mm in all" in pair
    assert "1600 mm in all" in words


@pytest.mark.parametrize(
    ("kind", "word"),
    [("pulled", "Tacks or staples"), ("ringed", "hog rings"), ("corded", "Draw the cord"), ("blind", "Blind-tack")],
)
def test_each_kind_is_told_where_it_is_and_nowhere_else(kind, word):
    kinds = ("pulled", "ringed", "corded", "blind")
    (line,) = said(edge(kind, 400.0))
    assert word in line
    rest = said(*(edge(other, 400.0) for other in kinds if other != kind))
    assert len(rest) == 3
    assert not any(word in line for line in rest)
    assert said(edge("glued", 400.0)) == []
