"""Which keys of a sheet to vary, and which way, for each problem that a change of a value can end.

Keys count from the pad; OWN stands for the key that the problem names, SIBLING for another key of its table.
"""

from collections.abc import Sequence

from meshes.base.problems import KeyPath, Vary, Way

OWN, SIBLING = "OWN", "SIBLING"
_EDGES = ("sides", "*", "edge_radius")
_CORNERS = ("outline", "corner_radius")
_SEAMS = ("sides", "*", "seam_below")
_THICKNESS = ("layer", "*", "thickness")
_MARGINS = tuple(("inset", key) for key in ("margin", "front", "right", "rear", "left"))


def _less(*keys: KeyPath) -> tuple[Vary, ...]:
    return tuple(Vary(key, Way.LESS) for key in keys)


def _more(*keys: KeyPath) -> tuple[Vary, ...]:
    return tuple(Vary(key, Way.MORE) for key in keys)


def _set(keys: KeyPath, *values: object) -> tuple[Vary, ...]:
    return (Vary(keys, Way.SET, values),)


_FEWER = (*_less(("pleats", "count")), *_more(("pleats", "pitch")))

REMEDIES: dict[str, tuple[Vary, ...]] = {
    "G002": _less((OWN,)),
    "G009": _less((OWN,)),
    "G020": (*_less((OWN,)), *_more((SIBLING, "drop"))),
    "G021": (*_set((SIBLING, "band"), True), *_set((OWN,), None)),
    "G022": (*_more((OWN,)), *_less((SIBLING, "edge_radius"))),
    "G024": (*_less((OWN,)), *_set((OWN,), None)),
    "G030": _less(*_MARGINS),
    "G031": (*_more((OWN,), ("inset", "margin")), *_set((OWN,), 0)),
    "G032": _less((OWN,)),
    "G061": _set((OWN,), "face", "inset"),
    "G062": _set((OWN,), None),
    "G063": _set((OWN,), None),
    "G071": (*_less((OWN,)), *_more((OWN,))),
    "G072": _less((OWN,)),
    "G073": _set((SIBLING, "cloth"), True),
    "G101": _less(_CORNERS, _EDGES),
    "G102": _less(_EDGES, _SEAMS, _THICKNESS, _CORNERS),
    "G103": _less(("inset", "corner_radius"), *_MARGINS),
    "G104": (*_FEWER, *_set(("pleats", "shape"), "edge")),
    "G106": (*_less((OWN, "seam_below")), *_more((OWN, "drop")), *_less((OWN, "edge_radius"))),
    "G108": (*_less((OWN, "drop")), *_more(_CORNERS), *_less(_THICKNESS, (OWN, "turn"))),
    "G111": _less(_THICKNESS, _SEAMS, ("outline", "hollow")),
    "G121": (*_more(("pleats", "pitch")), *_less(("pleats", "count"))),
    "G124": (*_more(("pleats", "largest_width"), ("pleats", "largest_area")), *_less(("pleats", "pitch"))),
    "G125": _set((OWN,), None),
    "G126": _set((OWN,), None),
    "G127": (*_less((OWN,), ("pleats", "rise")), *_FEWER),
    "G128": _set((OWN,), None),
    "G129": _less((OWN,)),
    "G130": (
        Vary(("pleats", "fan"), Way.EVEN),
        *_set(("pleats", "shape"), "edge"),
        *_FEWER,
        *_less(_CORNERS),
    ),
    "G141": _less(_THICKNESS),
    "G170": _set((OWN,), None),
    "G171": _set((OWN,), "face"),
    "G172": _set((OWN,), None),
    "G173": _less((OWN,)),
    "G175": (*_less((OWN,)), *_set((OWN,), None)),
    "G176": _set((OWN,), None),
    "G185": _set((OWN,), None),
    "G186": (*_set((OWN,), None), *_less((OWN,))),
    "G187": _set((OWN,), None),
    "G190": _set((OWN,), None),
    "G191": (*_set((OWN,), "all", None), *_less(_THICKNESS)),
    "G192": (*_less((SIBLING, "width"), (SIBLING, "depth")), *_less((SIBLING, "diameter"))),
    "G194": _set((OWN,), "cut"),
    "G195": _less((OWN,)),
    "G200": (*_less((OWN, "crease")), *_more((OWN, "crease")), *_more((OWN, "drop"))),
    "G205": _set((OWN,), None),
    "G210": (*_more((OWN, "overhang")), *_less((OWN, "bevel"))),
    "G212": _set((OWN,), None, "foam_medium"),
    "G213": (*_less((OWN,)), *_more((SIBLING, "thickness"))),
    "G225": _set((OWN,), None),
    "G226": _less((OWN,)),
    "G227": _set((OWN,), None),
    "G161": _less((OWN,)),
}


def remedies(code: str, keys: Sequence[str | int]) -> tuple[Vary, ...]:
    """What to vary to be rid of a problem of this code at a place of the sheet; nothing where no value helps."""
    own = tuple(keys)
    pad = own[:2]
    found = []
    for vary in REMEDIES.get(code, ()) if pad[:1] == ("pad",) and len(pad) == 2 else ():
        base = {OWN: own, SIBLING: own[:-1]}.get(str(vary.keys[0]))
        rest = vary.keys if base is None else vary.keys[1:]
        found.append(Vary((*(pad if base is None else base), *rest), vary.way, vary.values))
    return tuple(found)
