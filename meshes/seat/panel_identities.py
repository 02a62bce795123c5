"""What the parts of a cover are and what they are called: face, front band, inset, left bolster, centre pleat.

The sewn lines leave parts of the surface; which of them is the inset or a bolster is told from where its middle lies in
the chart. Several parts of one kind are told apart by where they lie.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon, contains_xy

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.surface import Surface, triangle_areas
from meshes.padding.support_mesh import SupportMesh
from meshes.pleats.plan import PleatPlan, part_names
from meshes.records.pad import SIDES, Pad
from meshes.seat.panels import PanelIdentity, PanelRole

# What is pleated, by where the sheet says it is.
PLEATED = {"face": PanelRole.FACE, "inset": PanelRole.INSET}


@dataclass(frozen=True, eq=False)
class _Middles:
    """Middles (m, 2) of the triangles in the chart, and their areas (m,) on the surface, mm2."""

    at: FloatArray
    area: FloatArray

    def mean(self, values: FloatArray, chosen: BoolArray) -> FloatArray:
        """The area-weighted mean of values (k, ...) of the chosen triangles (m,)."""
        return np.asarray(np.average(values, axis=0, weights=self.area[chosen]))


def panel_identities(
    meshed: SupportMesh, surface: Surface, part_of: IntArray, inset: Polygon | None, pleats: PleatPlan | None
) -> dict[int, PanelIdentity]:
    """What every part of a surface is, by its number; part_of (m,): the part of every triangle; inset: in the chart."""
    pad, mesh = meshed.pad, meshed.mesh
    middles = _Middles(mesh.plan[mesh.triangles].mean(axis=1), triangle_areas(surface.vertices, surface.triangles))
    identities: dict[int, PanelIdentity] = {}
    groups: dict[PanelIdentity, list[tuple[int, FloatArray]]] = {}
    for part in range(int(part_of.max()) + 1):
        own = part_of == part
        on_face = own & (mesh.side < 0)
        if on_face.any():
            kind = _face_kind(meshed, middles, on_face, inset)
            groups.setdefault(kind, []).append((part, middles.mean(middles.at[on_face], on_face)))
        else:
            fly = bool(len(mesh.fly)) and bool(mesh.fly[own].all())
            kind = _fly_kind(pad, mesh.side[own]) if fly else _band_kind(pad, mesh.side, own)
            groups.setdefault(kind, []).append((part, middles.mean(middles.at[own], own)))
    for kind, members in groups.items():
        identities.update(_pleated_parts(pleats, kind, members) or _spread_parts(pad, kind, members))
    return identities


def _band_kind(pad: Pad, side: IntArray, own: BoolArray) -> PanelIdentity:
    """What a band is called: after the side it lies along, or those it has all of; of three the middle one. Beside a
    side over which the face runs on it is a gable."""
    count = np.array([(side == k).sum() for k in range(len(SIDES))])
    mine = np.array([(own & (side == k)).sum() for k in range(len(SIDES))])
    whole = [k for k in range(len(SIDES)) if mine[k] > 0.5 * count[k]]
    if len(whole) == len(SIDES):
        return PanelIdentity(PanelRole.BAND, "band")
    if len(whole) == len(SIDES) - 1:
        (other,) = {*range(len(SIDES))} - {*whole}
        whole = [(other + 2) % len(SIDES)]
    named = whole or [int(mine.argmax())]
    words = [pad.side_word(SIDES[k]) for k in named]
    # Front and rear have even numbers: the sides beside both are the others.
    gable = len(named) == 1 and bool(pad.bands.over) and named[0] % 2 == 1
    return PanelIdentity(PanelRole.BAND, " ".join([*words, "gable" if gable else "band"]), tuple(words))


def _fly_kind(pad: Pad, side: IntArray) -> PanelIdentity:
    """What a fly is called: after its side. side (k,): of its triangles."""
    word = pad.side_word(SIDES[int(np.bincount(side).argmax())])
    return PanelIdentity(PanelRole.FLY, f"{word} fly", (word,))


def _face_kind(meshed: SupportMesh, middles: _Middles, chosen: BoolArray, inset: Polygon | None) -> PanelIdentity:
    """What a part of the face is; chosen (m,): its triangles that lie on the face."""
    if inset is None:
        return PanelIdentity(PanelRole.FACE, "face")
    at, outline = middles.at[chosen], meshed.chart.outline
    if middles.mean(contains_xy(inset, at[:, 0], at[:, 1]), chosen) > 0.5:
        return PanelIdentity(PanelRole.INSET, "inset")
    rim = middles.mean(outline.point(outline.nearest(at)[0]), chosen)
    word = meshed.pad.side_word(meshed.chart.side_at(float(outline.nearest(rim[None])[0][0])))
    return PanelIdentity(PanelRole.BOLSTER, f"{word} bolster", (word,))


def _pleated_parts(
    pleats: PleatPlan | None, kind: PanelIdentity, members: Sequence[tuple[int, FloatArray]]
) -> dict[int, PanelIdentity] | None:
    """The parts that joins in valleys leave, each a pleat where every valley is one; None where pleats part nothing."""
    if pleats is None or kind.role is not PLEATED[pleats.pleats.where] or len(members) == 1:
        return None
    known = part_names(pleats, kind.part, np.array([middle for _, middle in members]))
    if known is None:
        return None
    role = PanelRole.PLEAT if len(known) == pleats.count else kind.role
    return {
        part: PanelIdentity(role, name, (side,) if side else ())
        for (part, _), (name, side) in zip(members, known, strict=True)
    }


def _spread_parts(pad: Pad, kind: PanelIdentity, members: Sequence[tuple[int, FloatArray]]) -> dict[int, PanelIdentity]:
    """Several parts of one kind are told apart by where they lie: left, centre, right; front, rear; else by number."""
    if len(members) == 1:
        return {members[0][0]: kind}
    at = np.array([centroid for _, centroid in members])
    across = np.ptp(at[:, 0]) >= np.ptp(at[:, 1])
    order = np.argsort(at[:, 0] if across else at[:, 1], kind="stable")
    ends = ("left", "right") if across else (pad.side_word("front"), pad.side_word("rear"))
    words = {2: ends, 3: (ends[0], "centre", ends[1])}.get(len(members), tuple(str(k + 1) for k in range(len(members))))
    numbered = len(members) > 3
    return {
        members[m][0]: replace(kind, part=f"{kind.part} {word}")
        if numbered
        else replace(kind, part=f"{word} {kind.part}", places=(word, *kind.places))
        for m, word in zip(order, words, strict=True)
    }
