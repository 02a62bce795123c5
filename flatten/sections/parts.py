"""What stands where in a cut through a pad, for its drawing: springs, board, rail and gaps below, layers by thickness.

Lengths mm, in the plane of the cut (place, height).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import BoolArray, FloatArray
from meshes.records.pad import SIDES, Layer, Pad, Side
from meshes.settle.proposal import Comparison
from meshes.settle.section import Ridge, Section, SectionLift, as_measured
from meshes.support.blocks import bare_edge_mm, body_of

# Layers thinner than this have run out.
RUN_OUT_MM = 0.5


@dataclass(frozen=True, eq=False)
class Shown:
    """One state of a cut. words: what it is; pad: as it is padded in this state; lifts: where its cover lifts; ridge:
    the one that matters, over the same edge in all states."""

    words: str
    pad: Pad
    cut: Section
    lifts: tuple[SectionLift, ...]
    ridge: Ridge


@dataclass(frozen=True, eq=False)
class Ground:
    """What carries the padding at every place (k,): kinds of "springs", "board", "frame", "gap"; sides: the pad's sides
    at both ends of the cut."""

    kinds: npt.NDArray[np.str_]
    sides: tuple[str, str]

    def runs(self, kind: str) -> list[slice]:
        """Stretches of places of a kind, at least two long."""
        return _runs(self.kinds == kind)

    def side_of(self, run: slice, pad: Pad) -> Side:
        """The side of the pad that a stretch of places belongs to."""
        return pad.sides[self.sides[0 if run.start < 0.5 * len(self.kinds) else 1]]


def states(pad: Pad, cut: Comparison) -> list[Shown]:
    """As measured, with the padding proposed where some is, and as the sheet pads it."""
    shown = [("as measured: first layer only", as_measured(pad), cut.bare, cut.bare.lifts)]
    made = cut.proposal
    if made is not None and (made.layers or made.cloth):
        shown.append(("with the padding proposed", made.pad, made.after, made.after.lifts))
    shown.append(("as the sheet pads it", pad, cut.padded, cut.lifts))
    side = cut.ridge.side
    return [Shown(*one, next(ridge for ridge in one[2].ridges if ridge.side == side)) for one in shown]


def ground_of(shown: Shown) -> Ground:
    """What lies below the padding of a cut, place by place."""
    pad, place = shown.pad, shown.cut.support[:, 0]
    low, high = int(np.argmin(place)), int(np.argmax(place))
    words = {pad.side_word(side): side for side in SIDES}
    first, last = (words[ridge.side] for ridge in shown.cut.ridges)
    kinds = np.full(len(place), "board" if pad.springs is None else "frame", dtype="<U8")
    on = np.arange(len(place))
    face = (on >= low) & (on <= high)
    # How far in from where each of both sides begins to turn.
    from_first = place - place[low] - bare_edge_mm(pad, first)
    from_last = place[high] - place - bare_edge_mm(pad, last)
    face &= (from_first >= 0.0) & (from_last >= 0.0)
    if pad.springs is not None:
        kinds[face] = "springs"
    for name, inward in ((first, from_first), (last, from_last)):
        kinds[face & (inward < pad.sides[name].gap)] = "gap"
    return Ground(kinds, (first, last))


def layer_words(layer: Layer) -> str:
    """A layer as it is cut from stock: "25 mm foam medium"."""
    return f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}"


def layer_row(shown: Shown, k: int) -> str:
    """What becomes of a layer at the ridge: thickness free and at rest there."""
    cut = shown.cut
    at = nearest(cut.cover, np.array(shown.ridge.at))
    free, rest = (thick[k, at] for thick in cut.layer_mm())
    block = shown.pad.layers[k].block is not None
    if free < RUN_OUT_MM and block and shown.ridge.side in _ends_at(shown.pad, k):
        return f"a block, which stands on its own edge at the {shown.ridge.side}"
    if free < RUN_OUT_MM:
        return f"not at the {shown.ridge.side}"
    crushed = f", crushed {100 * (1 - rest / free):.0f} %" if cut.settled is not None else ""
    return f"at the {shown.ridge.side} {free:.1f} mm, under the cover {rest:.1f} mm{crushed}"


def _ends_at(pad: Pad, k: int) -> set[str]:
    """The sides, in words, at whose rim layer k ends as a block; none where it lies on the face or is laid over."""
    body = body_of(pad)
    forms = () if body is None else body.forms
    return {pad.side_word(side) for form in forms if form.layer == k for side in form.sides}


def nearest(points: FloatArray, at: FloatArray) -> int:
    """Number of the point nearest to a place."""
    return int(np.argmin(np.linalg.norm(points - at, axis=1)))


def _runs(mask: BoolArray) -> list[slice]:
    """Stretches of places where a mask (k,) holds, at least two long."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(mask, dtype=np.int64), [0]])))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
