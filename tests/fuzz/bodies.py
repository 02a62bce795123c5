"""The bodies that plausible seats begin from: one to three pads with outline, sides and padding, before variation.

Pads are plain dictionaries in mm with the keys of a sheet; rows of tables stand under profiles, layers and lines.
"""

import random
from collections.abc import Callable
from typing import Any

Pad = dict[str, Any]


def _round(value: float, step: float = 1.0) -> float:
    return round(value / step) * step


def between(dice: random.Random, low: float, high: float, step: float = 1.0) -> float:
    """A measure between low and high as a tape reads it."""
    return _round(dice.uniform(low, high), step)


def side(dice: random.Random, *, band: bool, drop: tuple[float, float] = (55, 130)) -> dict[str, Any]:
    """One side with the usual sizes."""
    made: dict[str, Any] = {"drop": between(dice, *drop, 5), "edge_radius": between(dice, 8, 25)}
    if band:
        made |= {"band": True, "seam_below": dice.choice((0, 0, 4, 5, 8)), "welt": dice.random() < 0.5}
    return made


def padding(dice: random.Random) -> list[dict[str, Any]]:
    """Usual layers: foam, and often wadding over it."""
    foam = dice.choice(("foam_soft", "foam_medium", "foam_medium", "foam_firm"))
    layers = [{"material": foam, "thickness": between(dice, 12, 40), "where": dice.choice(("all", "face"))}]
    if dice.random() < 0.6:
        layers.append({"material": "wadding", "thickness": between(dice, 5, 12)})
    return layers


def _base(name: str, kind: str, dice: random.Random, size: tuple[float, float]) -> Pad:
    wide, deep = size
    keys = ("front_width", "rear_width") if kind == "cushion" else ("bottom_width", "top_width")
    outline = {keys[0]: wide, keys[1]: _round(wide * dice.uniform(0.9, 1.0)), "depth": deep}
    outline["corner_radius"] = between(dice, 20, 0.22 * min(wide, deep), 5)
    return {"name": name, "kind": kind, "outline": outline, "layers": padding(dice)}


def slip_seat(dice: random.Random) -> list[Pad]:
    """A board with foam, the cover turned over all four edges."""
    pad = _base("seat", "cushion", dice, (between(dice, 320, 480, 5), between(dice, 300, 450, 5)))
    pad["sides"] = {name: side(dice, band=False, drop=(30, 60)) for name in ("front", "right", "rear")}
    return [pad]


def box_cushion(dice: random.Random) -> list[Pad]:
    """A loose cushion with bands all round, closed by hand behind."""
    pad = _base("cushion", "cushion", dice, (between(dice, 320, 560, 5), between(dice, 300, 520, 5)))
    pad["sides"] = {name: side(dice, band=True) for name in ("front", "right", "rear")}
    pad["sides"]["rear"]["closed_by_hand"] = True
    return [pad]


def helm_seat(dice: random.Random) -> list[Pad]:
    """A cushion with bands in front and at the sides, tacked behind."""
    pad = _base("cushion", "cushion", dice, (between(dice, 380, 560, 5), between(dice, 360, 520, 5)))
    pad |= {"origin": [0, 0, 350], "rake": between(dice, 0, 8)}
    pad["sides"] = {"front": side(dice, band=True), "right": side(dice, band=True), "rear": side(dice, band=False)}
    return [pad]


def back(dice: random.Random) -> list[Pad]:
    """A backrest that rolls over its top."""
    pad = _base("backrest", "backrest", dice, (between(dice, 360, 560, 5), between(dice, 300, 520, 5)))
    pad |= {"origin": [0, 450, 400], "rake": between(dice, 5, 18)}
    pad["sides"] = {"bottom": side(dice, band=False, drop=(40, 60)), "right": side(dice, band=True, drop=(50, 90))}
    pad["sides"]["bottom"]["closed_by_hand"] = True
    top = side(dice, band=dice.random() < 0.3, drop=(70, 110))
    pad["sides"]["top"] = top if top.get("band") else top | {"turn": dice.choice((90, 120, 150, 170))}
    return [pad]


def bench(dice: random.Random) -> list[Pad]:
    """A wide cushion, sprung or on a board."""
    pad = helm_seat(dice)[0]
    wide = between(dice, 900, 1250, 10)
    pad["outline"] |= {"front_width": wide, "rear_width": wide - dice.choice((0, 20, 40))}
    return [pad]


def pair(dice: random.Random) -> list[Pad]:
    """A cushion and its backrest."""
    cushion, rest = helm_seat(dice)[0], back(dice)[0]
    wide = cushion["outline"]["rear_width"]
    rest["outline"] |= {"bottom_width": wide, "top_width": _round(wide * dice.uniform(0.9, 1.0))}
    return [cushion, rest]


def side_pad(dice: random.Random) -> list[Pad]:
    """An upright side pad, banded all round."""
    pad = _base("wing", "side", dice, (between(dice, 150, 300, 5), between(dice, 260, 480, 5)))
    pad |= {"origin": [300, 100, 400], "facing": dice.choice((-90, -75, 90))}
    pad["sides"] = {name: side(dice, band=True, drop=(40, 70)) for name in ("bottom", "right", "top")}
    pad["sides"]["bottom"]["closed_by_hand"] = True
    return [pad]


def stool(dice: random.Random) -> list[Pad]:
    """A small seat with large corner radii: nearly round, a band all round."""
    size = between(dice, 280, 400, 5)
    pad = _base("stool", "cushion", dice, (size, size))
    pad["outline"] |= {"rear_width": size, "corner_radius": _round(size * dice.uniform(0.25, 0.42), 5)}
    pad["sides"] = {name: side(dice, band=True, drop=(50, 90)) for name in ("front", "right", "rear")}
    return [pad]


def waterfall(dice: random.Random) -> list[Pad]:
    """A bench whose face runs on over the rolled front, or over front and rear, between gables."""
    pad = _base("bench", "cushion", dice, (between(dice, 400, 900, 5), between(dice, 380, 520, 5)))
    del pad["outline"]["corner_radius"]
    edge = between(dice, 5, 20)
    drop = between(dice, 80, 130, 5)
    beside = {"drop": drop, "edge_radius": edge, "band": True, "welt": dice.random() < 0.5}
    pad["sides"] = {
        "front": {"drop": drop, "edge_radius": between(dice, max(edge, 20), 60)},
        "right": beside,
        "rear": {"drop": drop, "edge_radius": edge},
    }
    pad["bands"] = {"over": ["front", "rear"]}
    if dice.random() < 0.5:
        pad["sides"]["rear"]["band"] = True
        pad["bands"] = {"over": ["front"]}
    return [pad]


def head_pad(dice: random.Random) -> list[Pad]:
    """A small upright pad: head rest or arm rest."""
    pad = _base("head pad", "backrest", dice, (between(dice, 200, 320, 5), between(dice, 130, 220, 5)))
    pad["outline"]["corner_radius"] = between(dice, 20, 45, 5)
    pad["sides"] = {name: side(dice, band=name != "bottom", drop=(35, 60)) for name in ("bottom", "right", "top")}
    return [pad]


def jump_seat(dice: random.Random) -> list[Pad]:
    """A back and a leaf that goes on where it ends."""
    wide, high, turn = between(dice, 380, 440, 10), between(dice, 320, 400, 10), between(dice, 8, 15)
    rest = _base("back", "backrest", dice, (wide, high))
    rest["outline"] |= {"top_width": wide, "corner_radius": 20}
    rest["layers"] = [
        {"material": "foam_firm", "thickness": between(dice, 20, 32)},
        {"material": "wadding", "thickness": 8},
    ]
    edge = {"drop": 70, "edge_radius": 20, "turn": 90}
    joint = {"drop": 14, "edge_radius": 6, "turn": 40}
    rest |= {"origin": [0, 0, 420], "sides": {"top": edge, "bottom": edge | {"closed_by_hand": True}, "right": joint}}
    leaf = _base("right leaf", "side", dice, (190, high))
    leaf["outline"] |= {"top_width": 190, "corner_radius": 20}
    leaf |= {"origin": [wide / 2 + 94.2, -23, 420], "facing": -turn, "layers": [dict(row) for row in rest["layers"]]}
    banded = edge | {"band": True, "welt": True}
    leaf["sides"] = {
        "top": banded,
        "bottom": banded | {"closed_by_hand": True},
        "left": joint,
        "right": banded | {"drop": 60},
    }
    leaf["continues"] = {"pad": "back", "side": "left", "over": 150}
    return [rest, leaf]


BODIES: dict[str, Callable[[random.Random], list[Pad]]] = {
    "slip seat": slip_seat,
    "box cushion": box_cushion,
    "helm seat": helm_seat,
    "back": back,
    "bench": bench,
    "cushion and back": pair,
    "side pad": side_pad,
    "stool": stool,
    "waterfall": waterfall,
    "head pad": head_pad,
    "jump seat": jump_seat,
}
