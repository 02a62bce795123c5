"""What each piece asks of a hide: how it is seen, which zones it may come from, how far its arrow may lie off the
backbone.

Where from: seat tops, inside backs and bands from the prime middle, flanks and bellies to outside backs (two trade
pages). Near its budget along the backbone a piece may not come from the butt, which gives least that way (common
practice, no source). That leather lies along the backbone is advice: sources disagree.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.job.pipeline import Job
from flatten.pieces.piece import Piece, PieceKind
from flatten.pieces.turned_over import flesh_side_up, with_mirrored
from flatten.pieces.welt import WeltPlan
from flatten.report.amounts import welt
from meshes.base.arrays import FloatArray
from meshes.hides.records import Placing
from meshes.schema.cover_tables import ZONES
from meshes.seat.panels import Panel, PanelRole

_TRADE = "trade pages: the prime middle for what is seen, bellies and flanks to outside backs"
_PRACTICE = "common practice, no source"
USUAL_ZONES = {
    "face": (("butt", "shoulder"), _TRADE),
    "band": (("butt", "shoulder"), _TRADE),
    "side": (("butt", "shoulder", "neck"), _PRACTICE),
    "rear": (ZONES, _TRADE),
    "hidden": (ZONES, _PRACTICE),
}
# A piece that uses so much of its budget is near it, where its pull lies so nearly along the backbone (cosine).
NEAR_BUDGET, ALONG = 0.9, 0.8
# An arrow that may lie any way is tried in steps of this many degrees, one within a window in smaller ones.
ANY_STEP_DEG, WINDOW_STEP_DEG, ANY_TURN_DEG = 30.0, 5.0, 180.0
WELT_NAME, TEST_NAME = "welt", "test strips"
# Flat panels that close a seat below or behind.
_UNDER = "cushion"


@dataclass(frozen=True, eq=False)
class LeatherCut:
    """One thing to cut from leather. name: pad and piece; number: which of several alike; piece: None for a strip of
    welt; points (k, 2): its cut line, its arrow along y; leather: the name of its card."""

    name: str
    number: int
    piece: Piece | None
    points: FloatArray
    leather: str = ""

    @property
    def label(self) -> str:
        """Its name, with its number where there are several."""
        return f"{self.name}, {self.number}" if self.number > 1 else self.name


@dataclass(frozen=True)
class CutAsk:
    """What one cut asks. seen: face, band, side, rear, hidden; zones it may come from; turn_deg: how far its arrow
    may lie off the backbone; why: where the zones come from."""

    seen: str
    zones: tuple[str, ...]
    turn_deg: float
    why: str

    @property
    def grade(self) -> str:
        """The part of a hide that will do: whether flaws only for hidden pieces are taken, and the zones."""
        kind = "hidden" if self.seen in ("rear", "hidden") else "seen"
        return f"{kind}:{','.join(zone for zone in ZONES if zone in self.zones)}"

    @property
    def turns_deg(self) -> tuple[float, ...]:
        """Turns of the arrow off the backbone that are tried."""
        if self.turn_deg >= ANY_TURN_DEG:
            return tuple(float(turn) for turn in np.arange(0.0, 360.0, ANY_STEP_DEG))
        steps = [k * WINDOW_STEP_DEG for k in range(1, int(self.turn_deg / WINDOW_STEP_DEG + 1e-9) + 1)]
        if self.turn_deg > 0.0 and self.turn_deg not in steps:
            steps.append(self.turn_deg)
        both = [0.0, *(sign * step for step in steps for sign in (1.0, -1.0))]
        return tuple((turn + half) % 360.0 for half in (0.0, 180.0) for turn in both)

    @property
    def ranges_deg(self) -> tuple[tuple[float, float], ...]:
        """Turns of the arrow off the backbone that are allowed, (from, to)."""
        if self.turn_deg >= ANY_TURN_DEG:
            return ((-180.0, 180.0),)
        return tuple((half - self.turn_deg, half + self.turn_deg) for half in (0.0, 180.0))


def leather_cuts(job: Job) -> list[LeatherCut]:
    """Everything that is cut from leather and from roll goods, the cloth of flies too: pieces, mirrored ones mirrored,
    strips of welt, test strips, each leather's together."""
    coverings = job.coverings
    found: list[LeatherCut] = []
    plan = welt(job)
    for one in coverings.all:
        name, main = one.card.name, one.card.name == coverings.main.card.name
        names = ("", name) if main else (name,)
        found += _each([piece for piece in job.pieces if piece.order.leather in names and not piece.material], name)
        if main:
            found += _each([p for p in job.others if p.kind is PieceKind.TEST_STRIP and not p.material], name)
        if plan is not None and coverings.of_welt.card.name == name:
            found += _strips(plan, name)
    return found


def _each(pieces: Sequence[Piece], leather: str) -> list[LeatherCut]:
    found = list[LeatherCut]()
    for one in with_mirrored([flesh_side_up(piece) if piece.flesh_up else piece for piece in pieces]):
        name = TEST_NAME if one.kind is PieceKind.TEST_STRIP else f"{one.pad} {one.name}"
        begin = sum(cut.name == name for cut in found)
        for number in range(begin + 1, begin + one.order.count + 1):
            found.append(LeatherCut(name, number, one, one.cut, leather))
    return found


def _strips(plan: WeltPlan, leather: str) -> list[LeatherCut]:
    """Strips of every run of welt: whole ones, and what is left of its length."""
    found: list[LeatherCut] = []
    for run in plan.runs.values():
        for long in plan.strips_of(run):
            w = plan.width_mm
            points = np.array([[0.0, 0.0], [w, 0.0], [w, long], [0.0, long]])
            found.append(LeatherCut(WELT_NAME, len(found) + 1, None, points, leather))
    return found


def asks_of(job: Job, cuts: Sequence[LeatherCut], placings: Sequence[Placing]) -> list[CutAsk]:
    """What every cut asks: the usual, and over it what the sheet says."""
    panels = job.panels
    bottoms = {pad.pad.name: pad.pad.kind for pad in job.pads if pad.pad.closed is not None and pad.closed is None}
    found = []
    for cut in cuts:
        usual = _usual(cut, panels, bottoms, job.sheet.cover.grain_window_deg)
        for one in placings:
            if cut.name in one.pieces:
                usual = _over(usual, one)
        found.append(usual)
    return found


def _over(usual: CutAsk, given: Placing) -> CutAsk:
    asked = usual
    if given.seen is not None:
        zones, why = USUAL_ZONES[given.seen]
        asked = replace(asked, seen=given.seen, zones=zones, why=why)
    if given.zones is not None:
        asked = replace(asked, zones=given.zones, why="the sheet")
    return asked if given.turn_deg is None else replace(asked, turn_deg=given.turn_deg)


def _usual(cut: LeatherCut, panels: Mapping[str, Panel], bottoms: Mapping[str, str], window_deg: float) -> CutAsk:
    if cut.piece is None:
        zones, why = USUAL_ZONES["side"]
        return CutAsk("side", zones, ANY_TURN_DEG, why)
    if not cut.piece.panels:
        return CutAsk("hidden", ZONES, ANY_TURN_DEG, _PRACTICE)
    panel = panels[cut.piece.panels[0]]
    seen = _seen(panel, bottoms)
    zones, why = USUAL_ZONES[seen]
    if "butt" in zones and len(zones) < len(ZONES) and _pulled_along(cut.piece):
        zones = tuple(dict.fromkeys([*(zone for zone in zones if zone != "butt"), "neck"]))
        why = f"near its budget along the backbone, so not from the butt ({_PRACTICE})"
    return CutAsk(seen, zones, ANY_TURN_DEG if seen == "hidden" else window_deg, why)


def _seen(panel: Panel, bottoms: Mapping[str, str]) -> str:
    if panel.role is PanelRole.FLY:
        return "hidden"
    if panel.pad in bottoms:
        return "hidden" if bottoms[panel.pad] == _UNDER else "rear"
    if panel.role is not PanelRole.BAND:
        return "face"
    corners = panel.surface.vertices[panel.surface.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    return "side" if abs(across[0]) > abs(across[1]) else "band"


def _pulled_along(piece: Piece) -> bool:
    """Whether a piece is near its budget, pulled along its arrow there."""
    use = piece.mesh.use
    if use is None or not len(use) or float(use.max()) < NEAR_BUDGET:
        return False
    most = use >= NEAR_BUDGET
    return float(np.abs(piece.mesh.along[most, 1]).mean()) > ALONG
