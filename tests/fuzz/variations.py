"""Kinds of variation of plausible seats: of one pad.

Each takes what is there, changes it as a trimmer would have measured or wished it, and says whether it applied. The
share is how often it is tried; the word is what outcomes are counted under.
"""

import math
import random
from collections.abc import Callable
from typing import Any

from tests.fuzz.bodies import Pad, between
from tests.fuzz.outlines import corners_apart, free, outline_crooked, outline_traced, size, word

Vary = Callable[[Pad, random.Random], bool]


def crown(pad: Pad, dice: random.Random) -> bool:
    """One profile along, crowned, with the jitter of a gauge."""
    if "depth" not in pad["outline"]:
        return False
    deep, rise, count = pad["outline"]["depth"], between(dice, 4, 24), dice.randint(4, 9)
    places = [deep * k / (count - 1) for k in range(count)]
    peak = dice.uniform(0.3, 0.6)
    heights = [
        rise * math.sin(math.pi * min(1.0, (p / deep) ** math.log(0.5, peak))) + dice.uniform(-0.4, 0.4) for p in places
    ]
    points = [[round(p), round(h, 1)] for p, h in zip(places, heights, strict=True)]
    pad.setdefault("profiles", []).append({"direction": "along", "at": 0, "points": points})
    return True


def crown_aside(pad: Pad, dice: random.Random) -> bool:
    """A second profile along nearer to the side, flatter than the first."""
    if not pad.get("profiles"):
        return False
    first = pad["profiles"][0]
    flatter = [[p, round(0.6 * h, 1)] for p, h in first["points"]]
    pad["profiles"].append({"direction": "along", "at": round(0.36 * size(pad)[0]), "points": flatter})
    return True


def hollow(pad: Pad, dice: random.Random) -> bool:
    """A profile across: hollowed for the sitter."""
    if "depth" not in pad["outline"] or pad.get("profiles") or pad["name"] == "right leaf":
        return False
    (wide, deep), dip = size(pad), between(dice, 3, 14)
    half = wide / 2
    points = [[round(half * s), round(dip * s * s - dip, 1)] for s in (0, 0.25, 0.5, 0.75, 0.97)]
    pad["profiles"] = [{"direction": "across", "at": round(deep / 2), "points": points}]
    return True


def springs(pad: Pad, dice: random.Random) -> bool:
    """Springs by their rate, or coils with pitch, some tied down."""
    if pad["name"] in ("head pad", "right leaf", "back", "seat"):
        return False
    if dice.random() < 0.5:
        pad["support"] = {"kind": "springs", "rate_kpa_per_mm": round(dice.uniform(0.06, 0.25), 3)}
    else:
        pad["support"] = {
            "kind": "springs",
            "coil_rate": round(dice.uniform(0.6, 1.6), 2),
            "pitch": between(dice, 75, 110, 5),
        }
    if dice.random() < 0.5:
        pad["support"] |= {"free_height": 150, "held_height": between(dice, 105, 140, 5)}
    return True


def gap(pad: Pad, dice: random.Random) -> bool:
    """Springs that stop short of a rail, with cloth over the gap or without."""
    if pad.get("support", {}).get("kind") != "springs":
        return False
    side = pad["sides"][word(pad, "rear")]
    side |= {"gap": between(dice, 25, 70, 5), "gap_depth": between(dice, 20, 45, 5)}
    if dice.random() < 0.7:
        side |= {"cloth": True, "cloth_fixed": dice.choice(("springs", "frame"))}
    return True


def soft_edge(pad: Pad, dice: random.Random) -> bool:
    """A strip along the front or top edge, carried over it."""
    where = word(pad, dice.choice(("front", "front", "rear")))
    pad["layers"].append(
        {
            "material": dice.choice(("wadding", "cotton_batting", "foam_medium")),
            "thickness": between(dice, 6, 20),
            "where": where,
            "within": between(dice, 30, 80, 5),
            "taper": between(dice, 25, 80, 5),
            "below": dice.choice((0, 20, 40)),
        }
    )
    return True


def rolls(pad: Pad, dice: random.Random) -> bool:
    """Side rolls: firm strips left and right."""
    strip = {
        "material": "foam_firm",
        "thickness": between(dice, 10, 20),
        "within": between(dice, 35, 60, 5),
        "taper": 60,
    }
    pad["layers"] += [strip | {"where": "right"}, strip | {"where": "left"}]
    return True


def three_layers(pad: Pad, dice: random.Random) -> bool:
    """Felt or hair under the foam."""
    below = {
        "material": dice.choice(("felt", "rubberised_hair", "hair")),
        "thickness": between(dice, 5, 20),
        "where": "face",
    }
    pad["layers"].insert(0, below | ({"taper": 40} if dice.random() < 0.5 else {}))
    return True


def own_layer(pad: Pad, dice: random.Random) -> bool:
    """A material of the shop's own on top; the sheet describes it (see `own_materials`)."""
    pad["layers"].append(
        {"material": "shop_foam", "thickness": between(dice, 8, 25), "where": dice.choice(("all", "face"))}
    )
    return True


def inset(pad: Pad, dice: random.Random) -> bool:
    """An inset with bolsters round it, or running to the front."""
    if not free(pad) or "depth" not in pad["outline"] or min(size(pad)) < 290:
        return False
    margin = between(dice, 55, 0.24 * min(size(pad)), 5)
    pad["inset"] = {"left": margin, "right": margin, word(pad, "rear"): between(dice, 55, 85, 5)}
    pad["inset"][word(pad, "front")] = dice.choice((0, margin))
    pad["inset"] |= {
        "corner_radius": between(dice, 15, 50, 5),
        "welt": dice.random() < 0.4,
        "tied": dice.random() < 0.4,
    }
    return True


def seams(pad: Pad, dice: random.Random) -> bool:
    """One or more seams over the face: down the middle, across, two beside the middle, or a T."""
    if not free(pad) or "depth" not in pad["outline"]:
        return False
    (wide, deep), way = size(pad), dice.randrange(4)
    x, y = round(0.3 * wide), round(deep * dice.uniform(0.4, 0.6))
    middle = {"name": "centre seam", "points": [[0, 0], [0, deep]]}
    across = {"name": "cross seam", "points": [[0, y], [0.5 * wide, y + dice.choice((0, 10))]]}
    beside = {"name": "side seam", "points": [[x, 0], [x + dice.choice((0, -12)), deep]]}
    upper = {"name": "upper seam", "points": [[0, y], [0, deep]]}
    pad["lines"] = ([middle], [across], [beside], [across, upper])[way]
    if dice.random() < 0.4:
        pad["lines"][0] |= {"welt": True} if dice.random() < 0.5 else {"tied": True}
    return True


def pleats(pad: Pad, dice: random.Random) -> bool:
    """Pleats of the face or the inset: foam or wadding, straight, fanned or across, one piece or strips."""
    has_inset = bool(pad.get("inset"))
    if pad.get("lines") or pad.get("continues") or pad["name"] == "back" or "depth" not in pad["outline"]:
        return False
    wide, deep = size(pad)
    room = wide - (2 * pad["inset"]["left"] if has_inset else 0)
    made: dict[str, Any] = {"where": "inset" if has_inset else "face"}
    across = dice.random() < 0.15
    pitch = between(dice, 32, 68)
    run = deep - 140 if across and has_inset else deep if across else room
    made |= {"count": max(2, round(run / pitch))} if dice.random() < 0.6 else {"pitch": pitch}
    if across:
        made["direction"] = "across"
    elif dice.random() < 0.25:
        made["fan"] = round(dice.uniform(0.8, 1.1), 2)
    elif dice.random() < 0.15:
        made["half_at_sides"] = True
    thickness = between(dice, 5, 14)
    made |= {"filler_thickness": thickness, "filler": dice.choice(("foam", "foam", "wadding"))}
    if made["filler"] == "wadding" and dice.random() < 0.5:
        made["rise"] = min(between(dice, 4, 9), thickness)
    if dice.random() < 0.25:
        made["construction"] = "strips"
    elif dice.random() < 0.2:
        made |= {"joins": "auto", "largest_width": between(dice, 250, 450, 10)}
    made |= {"taper": between(dice, 15, 40, 5)} if dice.random() < 0.5 else {}
    made |= {"tied": True} if dice.random() < 0.15 else {}
    pad["pleats"] = made
    return True


def rounder(pad: Pad, dice: random.Random) -> bool:
    """A wanted radius: padding is proposed."""
    pad["wanted_radius"] = between(dice, 18, 45)
    return pad["name"] != "right leaf"


def height(pad: Pad, dice: random.Random) -> bool:
    """A finished height that may be gone over."""
    pad["finished_height"] = between(dice, 20, 110, 5)
    return True


def sharp(pad: Pad, dice: random.Random) -> bool:
    """Edges as sawn: a radius of 1 to 4 mm."""
    for side in pad["sides"].values():
        side["edge_radius"] = min(side["edge_radius"], between(dice, 1, 4))
    return pad["name"] not in ("back", "right leaf")


def bare(pad: Pad, dice: random.Random) -> bool:
    """No padding but a thin one."""
    pad["layers"] = [{"material": "wadding", "thickness": 5}] if dice.random() < 0.7 else []
    return True


OF_PADS: dict[Vary, tuple[float, str]] = {
    bare: (0.04, "hardly padded"),
    outline_crooked: (0.12, "crooked frame"),
    outline_traced: (0.1, "traced outline"),
    corners_apart: (0.15, "corner radii apart"),
    crown: (0.45, "crowned profile"),
    crown_aside: (0.2, "second profile"),
    hollow: (0.2, "hollow profile"),
    springs: (0.25, "springs"),
    gap: (0.4, "gap"),
    soft_edge: (0.2, "strip over an edge"),
    rolls: (0.1, "side rolls"),
    three_layers: (0.15, "layer under the foam"),
    own_layer: (0.08, "own material"),
    inset: (0.25, "inset"),
    seams: (0.2, "seams over the face"),
    pleats: (0.3, "pleats"),
    rounder: (0.08, "wanted radius"),
    height: (0.08, "finished height"),
    sharp: (0.08, "sharp edges"),
}
