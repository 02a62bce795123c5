"""Lines of an SVG drawing (SVG 1.1): shapes and paths, arcs among them, under all their transforms.

Curves are followed in short chords; arcs by appendix F.6 of the standard, transforms as matrices from the inside out.
Lengths are user units, y up: SVG's y runs down and is turned up, so that a drawing of the grain side stays one.
"""

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray

# Chords of a curve, and of a quarter of an ellipse.
CURVE_CHORDS = 24
# The most points of all lines together, and characters of one transform.
MOST_DRAWN_POINTS, LONGEST_TRANSFORM = 100_000, 2_000
# Numbers beyond this are no places in any unit; arcs of no length are straight.
FARTHEST, NO_LENGTH = 1e12, 1e-9
NO_PLACES = "it holds numbers that are no places on a hide; is its scale right?"
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_SPACE = re.compile(r"[\s,]*")
_COMMAND = re.compile(r"\s*([MmLlHhVvCcQqSsTtAaZz])")
_NEXT_NUMBER = re.compile(rf"[\s,]*({_NUMBER.pattern})")
# Flags of arcs may stand without anything between them.
_NEXT_FLAG = re.compile(r"[\s,]*([01])")
_TRANSFORM = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)")
_NEEDED = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
# What is there to be used or cut by, and not drawn in its place.
_NOT_DRAWN = frozenset(("defs", "clipPath", "mask", "pattern", "symbol", "marker"))


class DrawingFault(ValueError):
    """What is wrong with a drawing, in words."""


def svg_lines(data: bytes, words_of: Callable[..., frozenset[str]]) -> Iterator[tuple[frozenset[str], FloatArray]]:
    """Every line that says what it is, by its own names or those of the groups round it, in user units, y up.
    words_of: what names say. Raises DrawingFault, which tells nothing of what stands in the file."""
    if b"<!ENTITY" in data:
        raise DrawingFault("the drawing holds entities, which are not read")
    try:
        root = ET.fromstring(data)
    except (ET.ParseError, ValueError, LookupError) as fault:
        line = getattr(fault, "position", (0, 0))[0]
        raise DrawingFault(f"no SVG that can be read{f', at its line {line}' if line else ''}") from None
    # Groups may lie in each other as deep as a file is long.
    left = [(root, frozenset[str](), np.eye(3))]
    while left:
        node, around, matrix = left.pop()
        kind = node.tag.rsplit("}", 1)[-1]
        if kind in _NOT_DRAWN:
            continue
        names = [value for key, value in node.attrib.items() if key.rsplit("}", 1)[-1] in ("id", "label", "class")]
        words = around | words_of(*names)
        if given := node.get("transform"):
            matrix = matrix @ transform_of(given)
            if float(np.abs(matrix).max()) > FARTHEST:
                raise DrawingFault(NO_PLACES)
        if words:
            for line in _shape(kind, node):
                yield words, (line @ matrix[:2, :2].T + matrix[:2, 2]) * [1.0, -1.0]
        left += [(child, words, matrix) for child in reversed(node)]


def _numbers_of(text: str) -> list[float]:
    """The numbers of a text. Raises DrawingFault for one that is none a place could have."""
    numbers = [float(word) for word in _NUMBER.findall(text)]
    if any(abs(number) > FARTHEST for number in numbers):
        raise DrawingFault(NO_PLACES)
    return numbers


def transform_of(text: str) -> FloatArray:
    """The matrix (3, 3) of a transform attribute. Raises DrawingFault."""
    fault = "a transform cannot be read; there are matrix, translate, scale, rotate, skewX and skewY with their numbers"
    if len(text) > LONGEST_TRANSFORM or _TRANSFORM.sub("", text).strip(" ,\t\r\n"):
        raise DrawingFault(fault)
    matrix = np.eye(3)
    for found in _TRANSFORM.finditer(text):
        try:
            matrix = matrix @ _one_transform(found.group(1), _numbers_of(found.group(2)))
        except IndexError:
            raise DrawingFault(fault) from None
        if float(np.abs(matrix).max()) > FARTHEST:
            raise DrawingFault(NO_PLACES)
    return matrix


def _one_transform(kind: str, numbers: list[float]) -> FloatArray:
    if kind == "matrix":
        a, b, c, d, e, f = (numbers[k] for k in range(6))
        return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
    if kind == "translate":
        return _moved(numbers[0], numbers[1] if len(numbers) > 1 else 0.0)
    if kind == "scale":
        return np.diag([numbers[0], numbers[1] if len(numbers) > 1 else numbers[0], 1.0])
    angle, matrix = math.radians(numbers[0]), np.eye(3)
    if kind == "rotate":
        cos, sin = math.cos(angle), math.sin(angle)
        matrix[:2, :2] = [[cos, -sin], [sin, cos]]
        return _moved(*numbers[1:3]) @ matrix @ _moved(-numbers[1], -numbers[2]) if len(numbers) > 2 else matrix
    matrix[(0, 1) if kind == "skewX" else (1, 0)] = math.tan(angle)
    return matrix


def _moved(x: float, y: float) -> FloatArray:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def _shape(kind: str, node: ET.Element) -> list[FloatArray]:
    def value(key: str) -> float:
        return (_numbers_of(node.get(key, "0")) or [0.0])[0]

    if kind in ("polygon", "polyline"):
        numbers = _numbers_of(node.get("points", ""))
        return [np.array(numbers[: len(numbers) // 2 * 2]).reshape(-1, 2)]
    if kind == "line":
        return [np.array([[value("x1"), value("y1")], [value("x2"), value("y2")]])]
    if kind in ("circle", "ellipse"):
        radii = [value("r")] * 2 if kind == "circle" else [value("rx"), value("ry")]
        turn = np.linspace(0.0, 2.0 * np.pi, 4 * CURVE_CHORDS, endpoint=False)
        return [np.array([value("cx"), value("cy")]) + radii * np.column_stack([np.cos(turn), np.sin(turn)])]
    if kind == "rect":
        x, y, w, h = (value(key) for key in ("x", "y", "width", "height"))
        return [np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])]
    return path_runs(node.get("d", "")) if kind == "path" else []


def path_runs(text: str) -> list[FloatArray]:
    """The runs (k, 2) of a path. Raises DrawingFault."""
    runs: list[list[FloatArray]] = []
    at, handle, command, place = np.zeros(2), None, "", 0
    while (place := _space_end(text, place)) < len(text):
        found = _COMMAND.match(text, place)
        if found:
            command, place = found.group(1), found.end()
        elif not command or command in "Zz":
            raise DrawingFault("a path goes on with something that cannot be read")
        kind = command.upper()
        if kind == "Z":
            at = runs[-1][0] if runs else at
            handle = None
            continue
        numbers, place = _numbers(kind, text, place)
        steps, new_handle = _steps(kind, numbers, at if command.islower() else np.zeros(2), (at, handle))
        if kind == "M":
            runs.append([])
            command = "l" if command == "m" else "L"
        elif not runs or len(runs[-1]) == 0 or not np.array_equal(runs[-1][-1], at):
            # After a closed run the next one begins where that began.
            runs.append([at])
        runs[-1].extend(steps)
        at, handle = steps[-1], new_handle
        if len(runs[-1]) > MOST_DRAWN_POINTS:
            raise DrawingFault(f"a path has more than {MOST_DRAWN_POINTS} points; trace it with fewer")
    return [np.array(run) for run in runs if len(run) > 1]


def _space_end(text: str, place: int) -> int:
    found = _SPACE.match(text, place)
    return place if found is None else found.end()


def _numbers(kind: str, text: str, place: int) -> tuple[list[float], int]:
    """The numbers of one step of a path, and where its text goes on."""
    numbers = []
    for k in range(_NEEDED[kind]):
        found = (_NEXT_FLAG if kind == "A" and k in (3, 4) else _NEXT_NUMBER).match(text, place)
        if not found:
            raise DrawingFault("a path ends in the middle of a line")
        numbers += _numbers_of(found.group(1))
        place = found.end()
    return numbers, place


def _steps(
    kind: str, numbers: list[float], origin: FloatArray, before: tuple[FloatArray, tuple[str, FloatArray] | None]
) -> tuple[list[FloatArray], tuple[str, FloatArray] | None]:
    """Points of one step, and the last handle of a curve with its kind, which a smooth one goes on from."""
    at, handle = before
    if kind == "H":
        return [np.array([numbers[0] + origin[0], at[1]])], None
    if kind == "V":
        return [np.array([at[0], numbers[0] + origin[1]])], None
    if kind == "A":
        return list(arc(at, numbers, origin + numbers[5:7])), None
    corners = [origin + numbers[j : j + 2] for j in range(0, len(numbers), 2)]
    if kind in ("M", "L"):
        return corners, None
    family = "C" if kind in ("C", "S") else "Q"
    if kind in ("S", "T"):
        mirrored = 2.0 * at - handle[1] if handle is not None and handle[0] == family else at
        corners = [mirrored, *corners]
    control, found = [at, *corners], []
    for share in np.linspace(0.0, 1.0, CURVE_CHORDS + 1)[1:]:
        points = control
        while len(points) > 1:
            points = [p + share * (q - p) for p, q in pairwise(points)]
        found.append(points[0])
    return found, (family, corners[-2])


def arc(begin: FloatArray, numbers: list[float], end: FloatArray) -> FloatArray:
    """Points (k, 2) of an elliptical arc after its begin (SVG 1.1, appendix F.6). numbers: radii, turn in degrees, the
    two flags."""
    rx, ry = abs(numbers[0]), abs(numbers[1])
    if min(rx, ry) < NO_LENGTH or float(np.hypot(*(begin - end))) < NO_LENGTH:
        return end[None]
    cos, sin = math.cos(math.radians(numbers[2])), math.sin(math.radians(numbers[2]))
    spin = np.array([[cos, sin], [-sin, cos]])
    x, y = spin @ (0.5 * (begin - end))
    # Radii too small to reach from end to end are scaled up until they do.
    short = math.sqrt((x / rx) ** 2 + (y / ry) ** 2)
    rx, ry = (rx * short, ry * short) if short > 1.0 else (rx, ry)
    left = max(0.0, (rx * ry) ** 2 - (rx * y) ** 2 - (ry * x) ** 2) / ((rx * y) ** 2 + (ry * x) ** 2)
    away = math.sqrt(left) * (-1.0 if numbers[3] == numbers[4] else 1.0)
    middle = np.array([away * rx * y / ry, -away * ry * x / rx])
    first = math.atan2((y - middle[1]) / ry, (x - middle[0]) / rx)
    last = math.atan2((-y - middle[1]) / ry, (-x - middle[0]) / rx)
    swept = last - first
    if numbers[4] and swept < 0.0:
        swept += 2.0 * math.pi
    elif not numbers[4] and swept > 0.0:
        swept -= 2.0 * math.pi
    count = max(2, math.ceil(CURVE_CHORDS * abs(swept) / (0.5 * math.pi)))
    turns = first + swept * np.linspace(0.0, 1.0, count + 1)[1:]
    there = np.column_stack([rx * np.cos(turns), ry * np.sin(turns)]) + middle
    points = there @ spin + 0.5 * (begin + end)
    points[-1] = end
    return np.asarray(points)
