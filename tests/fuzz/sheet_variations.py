"""Kinds of variation of plausible seats: of the sheet as a whole. As in tests/fuzz/variations.py."""

import random
from collections.abc import Callable
from typing import Any

from tests.fuzz.bodies import between


def own_materials(draft: Any, dice: random.Random) -> bool:
    """The table of the shop's own material, where a layer is of it."""
    if not any(row["material"] == "shop_foam" for pad in draft.pads for row in pad["layers"]):
        return False
    low = dice.uniform(1.5, 5.0)
    kpa = [round(low, 1), round(1.4 * low, 1), round(3.2 * low, 1)]
    draft.sheet["material.shop_foam"] = {"density": 35, "compression_kpa": kpa, "thickness": 25, "source": "supplier"}
    return True


def leather(draft: Any, dice: random.Random) -> bool:
    """Another built-in leather, with a window for the grain or a tension."""
    cover: dict[str, Any] = {"leather": dice.choice(("soft", "firm", "furniture"))}
    cover |= {"grain_window": between(dice, 5, 30, 5)} if dice.random() < 0.4 else {}
    draft.sheet["cover"] = cover | ({"tension": between(dice, 50, 250, 10)} if dice.random() < 0.6 else {})
    return True


def own_card(draft: Any, dice: random.Random) -> bool:
    """The shop's own numbers of a hide."""
    stretch = round(dice.uniform(0.03, 0.08), 3)
    card = {"name": "shop hide", "thickness": 1.2, "pull": dice.choice((0, 0.005, 0.01)), "stretch_along": stretch}
    draft.sheet["cover"] = {"tension": between(dice, 60, 180, 10)}
    draft.sheet["cover.card"] = card | {"stretch_across": round(stretch * dice.uniform(1.0, 1.6), 3)}
    return True


def allowances(draft: Any, dice: random.Random) -> bool:
    """The shop's own allowances, corners and notches."""
    draft.sheet["allowance"] = {
        "sewn": between(dice, 8, 15),
        "welted": between(dice, 8, 15),
        "pulled": between(dice, 35, 70, 5),
        "closed": between(dice, 15, 35, 5),
        "corner": dice.choice(("square", "round", "mitre")),
        "notch_spacing": between(dice, 60, 180, 10),
    }
    return True


def papers(draft: Any, dice: random.Random) -> bool:
    """Other paper and another version of the DXF."""
    draft.sheet["output"] |= {"page": dice.choice(("a4", "letter", "a3")), "roll_width": dice.choice((610, 914, 1200))}
    draft.sheet["output"] |= {"dxf": dice.choice(("R2000", "R12")), "overlap": dice.choice((0, 10, 15))}
    return True


def ease(draft: Any, dice: random.Random) -> bool:
    """Fullness worked into the seam of the front band."""
    for pad in draft.pads:
        plain = not any(pad.get(key) for key in ("lines", "inset", "pleats")) and "depth" in pad["outline"]
        if pad["kind"] == "cushion" and plain and pad.get("sides", {}).get("front", {}).get("band"):
            seam = f"{pad['name']} face / front band"
            draft.sheet["ease"] = [{"seam": seam, "longer": f"{pad['name']} face", "by": dice.choice((0.005, 0.01))}]
            return True
    return False


def seam_kinds(draft: Any, dice: random.Random) -> bool:
    """All seams that are not welted sewn another way than plain."""
    row: dict[str, Any] = {"kind": dice.choice(("topstitched", "double topstitched", "lapped", "plain", "welted"))}
    if dice.random() < 0.5:
        row["turned"] = dice.random() < 0.5
    if dice.random() < 0.5:
        row["allowance"] = round(dice.uniform(0, 25), 1)
    draft.sheet["seam"] = [row]
    return True


def coverings(draft: Any, dice: random.Random) -> bool:
    """Some panels of another leather, or of roll goods."""
    row: dict[str, Any] = {
        "panels": dice.sample(["bands", "faces", "welt"], dice.randint(1, 3)),
        "leather": dice.choice(("soft", "firm", "cloth", "knit_backed_vinyl")),
    }
    if dice.random() < 0.5:
        row["roll"] = dice.choice(({"width": 300}, {"width": 1370, "usable": 1340}))
    draft.sheet["covering"] = [row]
    return True


def lined_up(draft: Any, dice: random.Random) -> bool:
    """The valleys of the backrest follow those of the cushion."""
    if len(draft.pads) < 2 or draft.pads[0]["name"] != "cushion":
        return False
    first, second = (pad.get("pleats") for pad in draft.pads)
    if not first or first.get("direction") or not second or any(p.get("inset") for p in draft.pads):
        return False
    for key in ("count", "pitch", "direction", "fan", "half_at_sides"):
        second.pop(key, None)
    second["lines_up_with"] = "cushion"
    return True


def inches(draft: Any, dice: random.Random) -> bool:
    """The whole sheet in inches and fractions of them."""
    draft.inches = True
    return True


def hides(draft: Any, dice: random.Random) -> bool:
    """Hides to cut from, with flaws, and what cuts them."""
    rows: list[dict[str, Any]] = []
    for name in ("bull 7", "cow")[: dice.choice((1, 2))]:
        rows.append({"name": name, "area": round(dice.uniform(2.5, 5.5), 2), "thickness": 1.2})
        grades = [dice.choice(("hole", "cut", "unusable", "hidden", "mark")) for _ in range(dice.randrange(4))]
        flaws = [
            {"kind": "scar", "grade": grade, "at": [between(dice, 300, 1700), between(dice, -400, 400)], "radius": 20}
            for grade in grades
        ]
        rows[-1] |= {"flaw": flaws} if flaws else {}
    draft.sheet["hide"] = rows
    draft.sheet["cutting"] = {"tool": dice.choice(("knife", "table", "shears")), "rim": between(dice, 5, 20)}
    return True


OF_SHEETS: dict[Callable[[Any, random.Random], bool], tuple[float, str]] = {
    own_materials: (1.0, "own material described"),
    leather: (0.6, "another leather"),
    own_card: (0.12, "own card"),
    allowances: (0.3, "own allowances"),
    papers: (0.25, "other papers"),
    ease: (0.15, "ease"),
    coverings: (0.15, "coverings"),
    seam_kinds: (0.2, "kinds of seams"),
    lined_up: (0.8, "pleats that follow"),
    hides: (0.08, "hides"),
    inches: (0.12, "inches"),
}
