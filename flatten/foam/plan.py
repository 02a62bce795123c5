"""The padding plan of a pad: sheets of stock and cutting shapes for every layer, and warnings with their figures.

A layer thicker than the sheet it is sold in is laid up of several. Areas of layers are those they cover on the padded
surface; those of shapes are of what is cut. Lengths mm.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from flatten.foam.cut import LayerShapes, shapes_of
from flatten.foam.gauge import rounding_gauges
from flatten.foam.parted import PartedLayer, parted_layer
from flatten.foam.rounding import Rounding, roundings_of
from flatten.foam.stock_sheets import Size, sheets_for_boxes
from flatten.foam.too_much import (
    ABOUT,
    OVER_SPRINGS_MM,
    RULE_CODE,
    SettledHeight,
    Thinner,
    face_padding_mm,
    height_of,
    thinner_layers,
)
from flatten.pieces.piece import Piece
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import Unit
from meshes.records.materials import CRUSH_LIMIT, Material
from meshes.seat.build import BuiltPad
from meshes.sheet.read import Allowance
from meshes.support.chart import MakeProblem, make_problem_for

# A sheet of stock, mm (common practice, no source).
SHEET_MM = (1000.0, 2000.0)


@dataclass(frozen=True)
class Stock:
    """One layer as it is bought. layer: counted from the support; sheet_mm: thickness it is sold in, None where the
    material has none; sheets: how many lie on each other; area_mm2: of all of them together."""

    layer: int
    material: str
    thickness_mm: float
    sheet_mm: float | None
    sheets: int
    area_mm2: float


@dataclass(frozen=True)
class Total:
    """All shapes of one material. cut_mm2: what is cut, every sheet of it; boxes: width and height round every shape,
    as often as it is cut; stock_sheets: how many sheets of SHEET_MM they take."""

    material: str
    sheet_mm: float | None
    shapes: int
    cut_mm2: float
    boxes: tuple[Size, ...]

    @property
    def boxes_mm2(self) -> float:
        """Area of the boxes."""
        return sum(w * h for w, h in self.boxes)

    @property
    def stock_sheets(self) -> int:
        """Sheets of stock that the boxes fit on."""
        return sheets_for_boxes(self.boxes, SHEET_MM)


@dataclass(frozen=True, eq=False)
class PadPlan:
    """What padding a pad takes. stock: by layer; cut: shapes to cut, by layer; height: of the settled pad; thinner:
    layers that were tried thinner; notes: what is too much, or could not be drawn; roundings: where mitred foam is
    rounded off once glued; gauges: card templates for that."""

    pad: str
    stock: tuple[Stock, ...]
    cut: tuple[LayerShapes, ...]
    height: SettledHeight
    thinner: tuple[Thinner, ...]
    notes: tuple[Problem, ...]
    roundings: tuple[Rounding, ...] = ()
    gauges: tuple[Piece, ...] = ()

    @property
    def drawn(self) -> tuple[Piece, ...]:
        """All that is drawn at full size: the shapes, and the gauges for rounding them."""
        return (*self.shapes, *self.gauges)

    @property
    def shapes(self) -> tuple[Piece, ...]:
        """All shapes to cut, from the support outward."""
        return tuple(shape for one in self.cut for shape in one.shapes)

    def shapes_of(self, layer: int) -> tuple[Piece, ...]:
        """Shapes of one layer, counted from 1; mirrored layers share theirs."""
        return tuple(shape for one in self.cut if layer in one.layers for shape in one.shapes)


def plan_of(
    pad: BuiltPad,
    materials: Mapping[str, Material],
    allowance: Allowance,
    *,
    make_problem: MakeProblem | None = None,
    unit: Unit = "mm",
) -> PadPlan:
    """The padding plan of a pad. make_problem makes its warnings; with a sheet at hand it knows file and line.
    unit: of the sheet; in inches, lengths are written in both."""
    make = make_problem or make_problem_for(pad.pad)
    laid, notes = _laid(pad, materials, make)
    mitred = {k: sides for one in laid for k, sides in one.mitred().items()}
    roundings = roundings_of(pad.pad, mitred, make_problem=make, alignment=pad.alignment)
    cut = tuple(
        shapes_of(pad.pad, one, materials[one.lie.layer.material], allowance, roundings=roundings, unit=unit)
        for one in laid
    )
    height, thinner = height_of(pad), thinner_layers(pad, materials)
    notes += [*_too_high(height, make), *_too_thick(thinner, make), *_over_springs(pad, make)]
    return PadPlan(
        pad=pad.pad.name,
        stock=stock_of(pad, materials),
        cut=cut,
        height=height,
        thinner=thinner,
        notes=tuple(notes),
        roundings=roundings,
        gauges=rounding_gauges(pad.pad, roundings, unit=unit),
    )


def _laid(
    pad: BuiltPad, materials: Mapping[str, Material], make_problem: MakeProblem
) -> tuple[list[PartedLayer], list[Problem]]:
    """All layers laid flat, and warnings for those that cannot be."""
    laid: list[PartedLayer] = []
    notes: list[Problem] = []
    for k in range(len(pad.pad.layers)):
        try:
            made = parted_layer(pad.pad, k, materials, make_problem=make_problem, alignment=pad.alignment)
            laid += [] if made is None else [made]
        except ProblemError as fault:
            reason = "; ".join(problem.text for problem in fault.problems)
            text = f"no cutting shape for layer {k + 1}: {reason}; cut it to the pad itself"
            notes.append(replace(make_problem("G154", ("layer", k), text), warning=True))
    return laid, notes


def _too_high(height: SettledHeight, make_problem: MakeProblem) -> Iterable[Problem]:
    if height.wanted_mm is not None and height.over_mm > 0.05:
        text = (
            f"the finished height is {height.found_mm:.1f} mm, {height.over_mm:.1f} mm more than the "
            f"{height.wanted_mm:g} mm asked for, highest at x = {height.at[0]:.0f}, y = {height.at[1]:.0f}; "
            "make a layer there thinner"
        )
        yield replace(make_problem("G151", ("finished_height",), text), warning=True)


def _too_thick(thinner: Iterable[Thinner], make_problem: MakeProblem) -> Iterable[Problem]:
    for one in thinner:
        if one.holds:
            words = ("layer " if len(one.layers) < 2 else "layers ") + " and ".join(map(str, one.layers))
            text = f"{words} may be thicker than the cover needs; with {one.text}; how it sits is not in this"
            yield replace(make_problem("G152", ("layer", one.layers[0] - 1), text), warning=True)


def _over_springs(pad: BuiltPad, make_problem: MakeProblem) -> Iterable[Problem]:
    thick = face_padding_mm(pad.pad)
    if pad.pad.springs is not None and thick > ABOUT * OVER_SPRINGS_MM:
        text = (
            f"{thick:g} mm of padding over springs; one layer of about {OVER_SPRINGS_MM:g} mm is usually enough "
            f"({RULE_CODE}: common practice, no source), more takes away what the springs give"
        )
        yield replace(make_problem("G153", ("layer",), text), warning=True)


def stock_of(pad: BuiltPad, materials: Mapping[str, Material]) -> tuple[Stock, ...]:
    """Stock for all layers of a pad, from the support outward."""
    rows = []
    for k, (name, _, thickness, area) in enumerate(pad.facts.layers, start=1):
        material = materials[name]
        sheets = material.sheets_for(thickness)
        rows.append(Stock(k, name, thickness, material.thickness_mm, sheets, sheets * area))
    return tuple(rows)


def totals(plans: Iterable[PadPlan], materials: Mapping[str, Material]) -> tuple[Total, ...]:
    """What all shapes of a job take of every material, in the order they come up."""
    found: dict[str, Total] = {}
    for shape in (shape for plan in plans for shape in plan.shapes):
        before = found.get(shape.material)
        if before is None:
            before = Total(shape.material, materials[shape.material].thickness_mm, 0, 0.0, ())
        count = shape.cut_count + shape.mirrored_count
        x0, y0, x1, y1 = shape.box()
        found[shape.material] = replace(
            before,
            shapes=before.shapes + count,
            cut_mm2=before.cut_mm2 + count * shape.cut_mm2,
            boxes=before.boxes + ((x1 - x0, y1 - y0),) * count,
        )
    return tuple(found.values())


def crushed_notes(pad: BuiltPad) -> tuple[Problem, ...]:
    """Warnings for foam layers that the settled cover crushes by more than half; none for stuffing, which is meant to
    give, and none where the cover has no tension."""
    if pad.rest is None:
        return ()
    return tuple(
        Problem(
            "G150",
            f"pad {pad.pad.name}, layer {k}",
            f"{layer.thickness:g} mm {layer.material} is crushed by up to {100 * share:.0f} %, more than "
            f"{100 * CRUSH_LIMIT:.0f} %; use firmer foam there, or round the edge beneath it",
            warning=True,
        )
        for k, (layer, share, foam) in enumerate(
            zip(pad.pad.layers, pad.rest.layer_compression_max, pad.rest.foam_layers, strict=True), start=1
        )
        if foam and share > CRUSH_LIMIT
    )
