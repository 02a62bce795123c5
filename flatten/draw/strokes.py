"""How each layer's lines look on every paper: told apart without colour, so that any printer will do."""

from dataclasses import dataclass

from flatten.draw.pen import PenLayer


@dataclass(frozen=True)
class Stroke:
    """Width and dashes in mm (no dashes: a full line), and the word for the layer."""

    word: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()


STROKES = {
    PenLayer.CUT: Stroke("cut", 0.4),
    PenLayer.SEW: Stroke("sew", 0.25, (4.0, 2.0)),
    PenLayer.NOTCH: Stroke("notches", 0.35),
    PenLayer.GRAIN: Stroke("grain", 0.3),
    PenLayer.OPENING: Stroke("openings", 0.45),
    PenLayer.INNER: Stroke("inner lines", 0.2, (6.0, 1.5, 0.8, 1.5)),
    PenLayer.TEXT: Stroke("text", 0.2),
    PenLayer.STITCH: Stroke("stitch lines", 0.3, (2.5, 1.5)),
    PenLayer.VALLEY: Stroke("valleys", 0.35),
    PenLayer.CREST: Stroke("crests", 0.15, (1.0, 3.0)),
    PenLayer.JOIN: Stroke("joins", 0.5, (8.0, 2.0)),
    PenLayer.BACKING: Stroke("backing lines", 0.3, (1.0, 1.0)),
    PenLayer.LATER: Stroke("cut later", 0.25, (1.5, 1.0)),
    PenLayer.ROUNDING: Stroke("rounding lines", 0.35, (10.0, 2.0, 2.0, 2.0)),
    PenLayer.GLUE: Stroke("glue lines", 0.2, (1.5, 1.5)),
    PenLayer.SLIT: Stroke("slits", 0.35, (3.0, 1.0)),
    PenLayer.HOLE: Stroke("holes to pierce", 0.25, (1.2, 0.8)),
    PenLayer.HIDE_RIM: Stroke("rim of the hide", 0.3),
    PenLayer.FLAW: Stroke("flaws", 0.35, (5.0, 1.0)),
    PenLayer.ZONE: Stroke("zones", 0.2, (3.0, 2.5)),
    PenLayer.BEFORE: Stroke("lines before fitting", 0.2, (7.0, 1.5, 0.8, 1.5, 0.8, 1.5)),
}
