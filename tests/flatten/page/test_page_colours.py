"""Colours of the page that mean something are told apart by people who see two kinds of colour only.

Simulated with the matrices of Machado, Oliveira and Fernandes 2009 (A physiologically-based model for simulation of
color vision deficiency, IEEE TVCG 15, table 1, severity 1.0) in linear sRGB; distances are CIE 1976 L*a*b* differences.
One of 2.3 is just noticed side by side (Mahy et al. 1994); four times that is asked for.
"""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

STATIC = Path(__file__).parents[3] / "flatten" / "page" / "static"
SEAT = (STATIC / "seat.js").read_text()
CSS = (STATIC / "page.css").read_text()
LEAST = 4 * 2.3
SEEN_BY = {
    "all": np.eye(3),
    "protanopes": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopes": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopes": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# sRGB to XYZ and its white (IEC 61966-2-1).
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def lab(rgb, eyes):
    c = np.asarray(rgb, dtype=float) / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    xyz = XYZ @ np.clip(eyes @ linear, 0.0, 1.0) / XYZ.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(a, b, eyes):
    return float(np.linalg.norm(lab(a, eyes) - lab(b, eyes)))


def scale(name):
    return [
        tuple(map(int, one))
        for one in re.findall(r"\[(\d+), (\d+), (\d+)\]", re.search(rf"{name} = \[(\[.*?\])\][,;]", SEAT)[1])
    ]


def single(name):
    return tuple(map(int, re.search(rf"{name} = \[(\d+), (\d+), (\d+)\]", SEAT).groups()))


def variables(block):
    return {name: tuple(bytes.fromhex(value)) for name, value in re.findall(r"--([\w-]+): #([0-9a-f]{6});", block)}


LIGHT = variables(CSS[: CSS.index("@media")])
DARK = variables(CSS[CSS.index(':root[data-shop="dark"]') : CSS.index("* { box-sizing")])


def test_the_measure_is_the_usual_one():
    assert apart((255, 255, 255), (0, 0, 0), np.eye(3)) == pytest.approx(100, abs=0.1)
    # Red and green of equal lightness are one to those who cannot tell them apart.
    assert apart((203, 0, 0), (102, 102, 0), SEEN_BY["protanopes"]) < 0.5 * apart((203, 0, 0), (102, 102, 0), np.eye(3))


@pytest.mark.parametrize("who", SEEN_BY)
def test_steps_of_every_scale_are_told_apart(who):
    eyes = SEEN_BY[who]
    for name, beyond in (("USE", single("OVER")), ("CRUSH", single("CRUSHED")), ("DOWN", None)):
        stops = scale(name)
        assert len(stops) >= 3
        steps = [*stops, *([beyond] if beyond else [])]
        for a, b in pairwise(steps):
            assert apart(a, b, eyes) > LEAST, (name, a, b)
        # Both ends of a scale are never taken for each other.
        assert apart(stops[0], stops[-1], eyes) > 2 * LEAST, name
    assert apart(single("NO_FOAM"), scale("CRUSH")[0], eyes) > LEAST / 2


@pytest.mark.parametrize("who", SEEN_BY)
@pytest.mark.parametrize("shop", ["light", "dark"])
def test_lines_of_a_drawing_are_told_apart(who, shop):
    """What is pointed at, what is as it was, and the ground under both; verdicts have forms of their own besides."""
    colours = {"light": LIGHT, "dark": DARK}[shop]
    for a, b in (("thread", "ink"), ("thread", "card"), ("thread", "rule"), ("thread", "act"), ("wood", "foam")):
        assert apart(colours[a], colours[b], SEEN_BY[who]) > LEAST, (a, b)
