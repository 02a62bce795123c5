"""Bodies that plausible seats begin from and that come with their variations: closed covers, rolls, boards covered
flat, folded corners, blocks, covers held in several ways. As in tests/fuzz/bodies.py; pads are not varied further.
"""

import random
from collections.abc import Callable
from typing import Any

from tests.fuzz.bodies import Pad, between

_CORES = ("foam_soft", "foam_medium", "foam_firm")


def _widths(dice: random.Random, low: float, high: float) -> dict[str, Any]:
    wide = between(dice, low, high, 5)
    return {
        "front_width": wide,
        "rear_width": wide - dice.choice((0, 0, 10, 20)),
        "depth": between(dice, 0.7 * low, 0.95 * high, 5),
        "corner_radius": between(dice, 25, 60, 5),
    }


def _wadding(dice: random.Random) -> list[dict[str, Any]]:
    if dice.random() < 0.3:
        return []
    return [{"material": "wadding", "thickness": between(dice, 6, 14), "where": "face"}]


def loose_box(dice: random.Random) -> list[Pad]:
    """A loose cushion sewn shut all round with a zip behind, some wedges, some with a flap over the zip's ends."""
    thick = between(dice, 60, 120, 5)
    closed: dict[str, Any] = {"thickness": thick, "core": dice.choice(_CORES), "welt": dice.random() < 0.5}
    way = dice.randrange(5)
    if way == 0:
        closed["rear_thickness"] = between(dice, 0.6 * thick, 0.9 * thick, 5)
    elif way == 1:
        closed["undersize"] = between(dice, 4, 18, 2)
    elif way == 2:
        closed["past_corner"] = between(dice, 60, 150, 10)
    elif way == 3:
        closed["flap"] = True
    pad = {"name": "loose cushion", "kind": "cushion", "outline": _widths(dice, 340, 560), "closed": closed}
    return [pad | {"layers": _wadding(dice)}]


def knife_edge(dice: random.Random) -> list[Pad]:
    """A scatter cushion: two faces on one seam."""
    closed = {"form": "knife_edge", "thickness": between(dice, 70, 120, 5), "core": dice.choice(_CORES[:2])}
    closed |= {"welt": dice.random() < 0.5, "zip_short": between(dice, 30, 60, 5)}
    pad = {"name": "scatter cushion", "kind": "cushion", "outline": _widths(dice, 360, 500), "closed": closed}
    return [pad | {"layers": _wadding(dice)}]


def neck_roll(dice: random.Random) -> list[Pad]:
    """A cylinder of foam, two discs and a tube."""
    closed = {"form": "roll", "length": between(dice, 250, 600, 10), "core": dice.choice(_CORES[1:])}
    outline = {"shape": "round", "width": between(dice, 100, 220, 5)}
    return [{"name": "neck roll", "kind": "cushion", "outline": outline, "closed": closed, "layers": []}]


def door_card(dice: random.Random) -> list[Pad]:
    """A board covered flat, with an opening or two and a hole; some of them one of a pair."""
    wide, deep = between(dice, 420, 700, 10), between(dice, 300, 480, 10)
    lock = {"name": "lock", "at": [round(-0.2 * wide), round(0.5 * deep)], "width": between(dice, 50, 90)}
    lock |= {
        "depth": between(dice, 40, 70),
        "corner_radius": between(dice, 4, 12),
        "edge": dice.choice(("wrap", "cut")),
    }
    vent = {"name": "vent", "shape": "round", "at": [round(0.2 * wide), round(0.4 * deep)]}
    vent |= {"width": between(dice, 70, 120), "edge": "cut"}
    board: dict[str, Any] = {"thickness": between(dice, 3, 6), "wrap": between(dice, 18, 25)}
    board["opening"] = [lock, vent][: dice.choice((1, 1, 2))]
    board["hole"] = [{"name": "handle", "at": [round(-0.2 * wide), round(0.15 * deep)], "diameter": 8}]
    board |= {"pair": dice.choice(("right", "left"))} if dice.random() < 0.5 else {}
    outline = {"bottom_width": wide, "top_width": wide - dice.choice((0, 40, 80)), "depth": deep}
    outline["corner_radius"] = between(dice, 20, 50, 5)
    foam = [{"material": "foam_firm", "thickness": dice.choice((3, 6))}]
    return [{"name": "door card", "kind": "side", "outline": outline, "board": board, "layers": foam}]


def folded_seat(dice: random.Random) -> list[Pad]:
    """A slip seat whose leather is folded at the corners, some of them unlike the others."""
    edge = {"drop": between(dice, 14, 24), "edge_radius": between(dice, 3, 8)}
    outline = {**_widths(dice, 380, 480), "corner_radius": between(dice, 10, 25, 5)}
    folds: dict[str, Any] = {"all": dice.choice(("single", "double", "sewn", "drawn"))}
    if dice.random() < 0.4:
        folds |= {"front_left": "single", "front_right": "single"}
    if dice.random() < 0.3:
        folds["clearance"] = between(dice, 10, 18)
    foam = {"material": "foam_firm", "thickness": between(dice, 18, 35)}
    pad = {"name": "seat", "kind": "cushion", "outline": outline, "folds": folds, "layers": [foam]}
    return [pad | {"sides": {name: dict(edge) for name in ("front", "right", "rear")}}]


def block_seat(dice: random.Random) -> list[Pad]:
    """A slab of foam on a board, a little larger than it, some of them crowned."""
    side = {"drop": between(dice, 30, 45), "edge_radius": between(dice, 5, 10), "band": True, "welt": True}
    outline = _widths(dice, 380, 500)
    slab: dict[str, Any] = {"material": "foam_firm", "thickness": between(dice, 40, 70, 5), "where": "face"}
    slab |= {"form": "block", "overhang": dice.choice((0, 4, 6)), "edge": between(dice, 18, 28)}
    if dice.random() < 0.5:
        deep, rise = outline["depth"], between(dice, 5, 12)
        points = [[0, 0], [round(0.25 * deep), round(0.8 * rise)], [round(0.5 * deep), rise]]
        points += [[round(0.75 * deep), round(0.8 * rise)], [deep, 0]]
        slab["crown"] = [{"direction": "along", "at": 0, "points": points}]
    layers = [slab, {"material": "wadding", "thickness": between(dice, 5, 9)}]
    pad = {"name": "block seat", "kind": "cushion", "outline": outline, "layers": layers}
    return [pad | {"sides": {name: dict(side) for name in ("front", "right", "rear")}}]


def held_back(dice: random.Random) -> list[Pad]:
    """A back whose outer edges are held in several ways; some go down behind the seat on a fly round a hinge post."""
    wide = between(dice, 360, 460, 10)
    outline = {"bottom_width": wide, "top_width": wide - dice.choice((0, 20)), "depth": between(dice, 300, 400, 10)}
    outline["corner_radius"] = between(dice, 35, 55, 5)
    band = {"drop": between(dice, 45, 60), "edge_radius": between(dice, 16, 24), "band": True}
    bottom = band | {"drop": between(dice, 100, 125, 5)}
    fixing: dict[str, Any] = {"top": dice.choice(("stapled", "blind-tacked", "glued", "edge clip"))}
    fixing["right"] = dice.choice(("stapled", "hog-ringed", "closed by hand"))
    pad: dict[str, Any] = {"name": "held back", "kind": "backrest", "rake": between(dice, 4, 12), "outline": outline}
    pad["bands"] = {"corners": {"bottom_left": "sides", "bottom_right": "sides"}}
    if dice.random() < 0.5:
        bottom["crease"] = between(dice, 15, 30)
        fixing |= {"bottom": "fly"}
        pad["posts"] = [{"side": "bottom", "at": round(0.25 * wide), "width": between(dice, 25, 40)}]
    elif dice.random() < 0.5:
        fixing["bottom"] = "draw cord"
    layers = [{"material": "foam_firm", "thickness": between(dice, 18, 30)}, {"material": "wadding", "thickness": 6}]
    sides = {"bottom": bottom, "right": dict(band), "top": dict(band)}
    return [pad | {"fixing": fixing, "layers": layers, "sides": sides}]


WHOLE_BODIES: dict[str, Callable[[random.Random], list[Pad]]] = {
    "loose box": loose_box,
    "knife edge": knife_edge,
    "neck roll": neck_roll,
    "door card": door_card,
    "folded seat": folded_seat,
    "block seat": block_seat,
    "held back": held_back,
}
