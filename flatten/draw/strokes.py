"""How each layer's lines look on every paper: told apart without colour, so that any printer will do."""

from dataclasses import dataclass

from flatten.draw.pen import Layer


@dataclass(frozen=True)
class Stroke:
    """Width and dashes in mm (no dashes: a full line), and the word for the layer."""

    word: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()


STROKES = {
    Layer.CUT: Stroke("cut", 0.4),
    Layer.SEW: Stroke("sew", 0.25, (4.0, 2.0)),
    Layer.NOTCH: Stroke("notches", 0.35),
    Layer.GRAIN: Stroke("grain", 0.3),
    Layer.INNER: Stroke("inner lines", 0.2, (6.0, 1.5, 0.8, 1.5)),
    Layer.TEXT: Stroke("text", 0.2),
    Layer.STITCH: Stroke("stitch lines", 0.3, (2.5, 1.5)),
    Layer.VALLEY: Stroke("valleys", 0.35),
    Layer.CREST: Stroke("crests", 0.15, (1.0, 3.0)),
    Layer.JOIN: Stroke("joins", 0.5, (8.0, 2.0)),
    Layer.BACKING: Stroke("backing lines", 0.3, (1.0, 1.0)),
    Layer.ROUNDING: Stroke("rounding lines", 0.35, (10.0, 2.0, 2.0, 2.0)),
}
