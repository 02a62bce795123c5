"""Kinds of variation of a pad's outline, and what variations ask of one. As in tests/fuzz/variations.py."""

import random

from tests.fuzz.bodies import Pad, between


def upright(pad: Pad) -> bool:
    return bool(pad["kind"] != "cushion")


def word(pad: Pad, side: str) -> str:
    return {"front": "bottom", "rear": "top"}.get(side, side) if upright(pad) else side


def size(pad: Pad) -> tuple[float, float]:
    """Narrower width and depth of a pad whose outline is still given by widths."""
    outline = pad["outline"]
    names = ("bottom_width", "top_width") if upright(pad) else ("front_width", "rear_width")
    return min(outline[name] for name in names), outline["depth"]


def free(pad: Pad) -> bool:
    """Nothing divides the face yet, and no neighbour depends on the pad."""
    return not any(pad.get(key) for key in ("inset", "lines", "pleats", "continues")) and pad["name"] != "back"


def outline_crooked(pad: Pad, dice: random.Random) -> bool:
    """Left and right measured apart."""
    if not free(pad) or "points" in pad["outline"] or pad.get("bands"):
        return False
    wide, deep = size(pad)
    ends = ("bottom", "top") if upright(pad) else ("front", "rear")
    half = {
        f"{end}_{hand}": pad["outline"][f"{end}_width"] / 2 + between(dice, -4, 4)
        for end in ends
        for hand in ("left", "right")
    }
    pad["outline"] = {
        **half,
        "depth_left": deep + between(dice, -4, 4),
        "depth_right": deep,
        "corner_radius": pad["outline"]["corner_radius"],
    }
    pad["sides"]["left"] = pad["sides"]["right"] | {"drop": pad["sides"]["right"]["drop"] + between(dice, -5, 5)}
    return wide > 0


def outline_traced(pad: Pad, dice: random.Random) -> bool:
    """The right half traced, with a bow in front and a waist at the side."""
    if not free(pad) or "depth" not in pad["outline"] or pad.get("bands"):
        return False
    wide, deep = size(pad)
    bow, waist, half = between(dice, 0, 18), between(dice, -8, 12), wide / 2
    radius = between(dice, 20, 0.3 * half, 5)
    points = [
        [0, 0],
        [half * 0.6, bow * 0.3],
        [half, bow, radius],
        [half - waist, deep / 2, 120],
        [half - 10, deep, radius],
        [0, deep],
    ]
    pad["outline"] = {"points": points if bow else [points[0], *points[2:]]}
    return True


def corners_apart(pad: Pad, dice: random.Random) -> bool:
    """Front and rear corners of different radius."""
    if "depth" not in pad["outline"] or pad["name"] in ("back", "right leaf") or pad.get("bands"):
        return False
    most = 0.25 * min(size(pad))
    ends = {word(pad, "front"): between(dice, 15, most, 5), word(pad, "rear"): between(dice, 15, most, 5)}
    pad["outline"]["corner_radius"] = {f"{end}_{hand}": r for end, r in ends.items() for hand in ("left", "right")}
    return True
