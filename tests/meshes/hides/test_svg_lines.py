"""Paths and transforms of SVG, held against svgpathtools and against what they must come to by geometry."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from meshes.hides.svg_lines import DrawingFault, path_runs, svg_lines, transform_of

svgpathtools = pytest.importorskip("svgpathtools")

PATHS = [
    "M 0 0 A 30 50 -30 0 1 162 55 L 20 300 z",
    "M 10,315 L 110,215 A 30 50 0 0 1 162.55,162.45 L 172.55,152.45 A 30 50 -45 1 0 215.1,109.9 L 315 10",
    "m 5 5 a25,25 -30 0 1 50,-25 l 50 -25 a25 50 -30 1150-25 l50-25",
    "M 0 0 a 3 4 20 1 0 90 10",
    "M10 80 C 40 10, 65 10, 95 80 S 150 150, 180 80 q 20 -30 40 0 t 40 0 T 300 80 H 320 v 40 h-10",
    "M10 80 S 20 90 40 40 T 90 90",
]


@pytest.mark.parametrize("text", PATHS)
def test_a_path_is_followed_as_another_reader_follows_it(text):
    whole = svgpathtools.parse_path(text)
    theirs = [
        [part.point(t) for piece in part_ for part in [piece] for t in np.linspace(0, 1, 200)]
        for part_ in whole.continuous_subpaths()
    ]
    theirs = [LineString(np.column_stack([np.real(run), np.imag(run)])) for run in theirs]
    runs = path_runs(text)
    assert len(runs) == len(theirs)
    for mine, other in zip(runs, theirs, strict=True):
        # Chords of a curve of this size lie off it by a few hundredths.
        closed = np.concatenate([mine, mine[:1]]) if text.count("z") else mine
        assert max(other.distance(Point(p)) for p in mine) < 0.01
        assert max(LineString(closed).distance(Point(p)) for p in other.coords) < 0.25


def test_after_a_closed_run_the_next_begins_where_that_began():
    first, second, third = path_runs("M 1 0 L 10 0 10 10 z l -5 -5 -5 5 z m 40 40 h 9 v 9 z")
    assert first.tolist() == [[1.0, 0.0], [10.0, 0.0], [10.0, 10.0]]
    assert second.tolist() == [[1.0, 0.0], [-4.0, -5.0], [-9.0, 0.0]]
    assert third.tolist() == [[41.0, 40.0], [50.0, 40.0], [50.0, 49.0]]


def test_an_arc_is_that_of_its_circle():
    (run,) = path_runs("M 50 0 A 50 50 0 1 1 0 -50")
    assert np.hypot(*run.T) == pytest.approx(np.full(len(run), 50.0))
    assert Polygon(run).area == pytest.approx(0.75 * np.pi * 2500.0 + 0.5 * 2500.0, rel=2e-3)
    # Too small a radius is made large enough: a half circle over its chord.
    (run,) = path_runs("M 0 0 A 1 1 0 0 1 100 0")
    assert np.hypot(run[:, 0] - 50.0, run[:, 1]) == pytest.approx(np.full(len(run), 50.0))
    assert path_runs("M 0 0 A 0 5 0 0 1 9 9")[0].tolist() == [[0.0, 0.0], [9.0, 9.0]]


@pytest.mark.parametrize(
    ("text", "point", "there"),
    [
        ("translate(10)", (1.0, 2.0), (11.0, 2.0)),
        ("translate(10, -3) scale(2)", (1.0, 2.0), (12.0, 1.0)),
        ("scale(2 -1)", (1.0, 2.0), (2.0, -2.0)),
        ("rotate(90)", (1.0, 2.0), (-2.0, 1.0)),
        ("rotate(90, 10, 0)", (11.0, 0.0), (10.0, 1.0)),
        ("skewX(45)", (1.0, 2.0), (3.0, 2.0)),
        ("skewY(45)", (1.0, 2.0), (1.0, 3.0)),
        ("matrix(1 2 3 4 5 6)", (1.0, 1.0), (9.0, 12.0)),
        ("", (1.0, 2.0), (1.0, 2.0)),
    ],
)
def test_a_transform_takes_points_where_the_standard_says(text, point, there):
    assert (transform_of(text) @ [*point, 1.0])[:2] == pytest.approx(there)


def test_transforms_hold_from_the_inside_out_and_names_with_them():
    text = """<svg xmlns="http://www.w3.org/2000/svg"><defs><rect id="outline" width="9" height="9"/></defs>
    <g id="outline" transform="translate(100 0)"><g transform="scale(10)"><ellipse cx="1" cy="2" rx="3" ry="1"/></g>
    </g></svg>"""
    ((words, line),) = svg_lines(text.encode(), lambda *names: frozenset(names))
    assert words == {"outline"}
    assert line.mean(axis=0) == pytest.approx([110.0, -20.0])
    assert np.ptp(line, axis=0) == pytest.approx([60.0, 20.0])


@pytest.mark.parametrize("text", ["rotate()", "shear(3)", "scale(2", "matrix(1 2 3)"])
def test_a_transform_that_cannot_be_read_is_refused(text):
    with pytest.raises(DrawingFault, match="transform"):
        transform_of(text)


@pytest.mark.parametrize("text", ["M 0 0 L 5", "M 0 0 A 5 5 0 2 1 9 9", "7 7", "M 0 0 L 5 5 z 4 4", "M 0 0 X 9"])
def test_a_path_that_cannot_be_read_is_refused(text):
    with pytest.raises(DrawingFault):
        path_runs(text)


@pytest.mark.parametrize("radii", ["0 5", "5 0", "0 0", "-0 7"])
def test_an_arc_with_a_radius_of_nothing_is_a_straight_line(radii):
    """SVG 1.1, F.6.2; and one that ends where it began is left out."""
    assert path_runs(f"M 0 0 A {radii} 30 0 1 9 9")[0].tolist() == [[0.0, 0.0], [9.0, 9.0]]
    (run,) = path_runs(f"M 0 0 L 4 4 A {radii} 30 0 1 4 4 L 9 0")
    assert np.unique(run, axis=0).tolist() == [[0.0, 0.0], [4.0, 4.0], [9.0, 0.0]]
    (run,) = path_runs("M 0 0 L 4 4 A 5 7 30 1 1 4 4 L 9 0")
    assert np.unique(run, axis=0).tolist() == [[0.0, 0.0], [4.0, 4.0], [9.0, 0.0]]


@pytest.mark.parametrize("turn", [0.0, 35.0, -110.0])
@pytest.mark.parametrize("large", [0, 1])
@pytest.mark.parametrize("sweep", [0, 1])
def test_an_arc_lies_on_the_ellipse_through_both_its_ends(turn, large, sweep):
    """Of a known ellipse between two known places: every point lies on it, and it goes the way and the part asked."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    spin = np.array([[c, -s], [s, c]])
    first, swept = 0.3, (1.9 if not large else 2.0 * np.pi - 1.9) * (1.0 if sweep else -1.0)
    turns = first + swept * np.linspace(0.0, 1.0, 400)
    known = np.column_stack([40.0 * np.cos(turns), 15.0 * np.sin(turns)]) @ spin.T + [7.0, -3.0]
    (x0, y0), (x1, y1) = known[0], known[-1]
    (run,) = path_runs(f"M {x0:.12f} {y0:.12f} A 40 -15 {turn} {large} {sweep} {x1:.12f} {y1:.12f}")
    own = (run - [7.0, -3.0]) @ spin / [40.0, 15.0]
    assert np.hypot(*own.T) == pytest.approx(np.ones(len(run)), abs=1e-6)
    phase = np.unwrap(np.arctan2(own[:, 1], own[:, 0]))
    assert phase - phase[0] == pytest.approx(swept * np.linspace(0.0, 1.0, len(run)), abs=1e-5)
    # A quarter of a turn is followed in 24 chords.
    assert len(run) - 1 == int(np.ceil(24 * abs(swept) / (0.5 * np.pi)))
    assert LineString(run).length == pytest.approx(LineString(known).length, rel=1e-3)


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ('<circle cx="10" cy="20" r="5"/>', np.pi * 25.0),
        ('<ellipse cx="10" cy="20" rx="5" ry="3"/>', np.pi * 15.0),
        ('<rect x="8" y="18" width="4" height="7"/>', 28.0),
        ('<polygon points="0,0 4,0 4,3 9"/>', 6.0),
    ],
)
def test_a_shape_lies_where_it_is_drawn_with_y_turned_up(shape, area):
    data = f'<svg xmlns="http://www.w3.org/2000/svg"><g id="x">{shape}</g></svg>'.encode()
    ((_, ring),) = svg_lines(data, lambda *names: frozenset(names))
    assert Polygon(ring).area == pytest.approx(area, rel=2e-3)
    if "cx" in shape:
        assert ring.mean(axis=0) == pytest.approx([10.0, -20.0])
    elif "rect" in shape:
        assert (ring.min(axis=0), ring.max(axis=0)) == (pytest.approx([8.0, -25.0]), pytest.approx([12.0, -18.0]))
    else:
        assert ring.tolist() == [[0.0, 0.0], [4.0, 0.0], [4.0, -3.0]]


def test_a_number_beyond_all_places_is_refused_and_one_short_of_it_read():
    """A million million units are far beyond any hide in any unit."""
    (run,) = path_runs("M 0 0 L 0.99e12 -0.99e12")
    assert run[-1].tolist() == [0.99e12, -0.99e12]
    for text in ("M 0 0 L 1.01e12 0", "M 0 0 L 0 -1.01e12"):
        with pytest.raises(DrawingFault, match="no places on a hide"):
            path_runs(text)
    assert transform_of("scale(0.99e6) scale(0.99e6)")[0, 0] == pytest.approx(0.9801e12)
    with pytest.raises(DrawingFault, match="no places on a hide"):
        transform_of("scale(1.01e6) scale(1.01e6)")
