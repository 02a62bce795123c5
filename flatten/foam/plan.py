"""The padding plan of a pad: sheets of stock and cutting shapes for every layer, and warnings with their figures.

A layer thicker than the sheet it is sold in is laid up of several. Areas of layers are those they cover on the padded
surface; those of shapes are of what is cut. Lengths mm.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from flatten.foam.block_shapes import block_shapes, cut_from_mm, rolled_edges
from flatten.foam.cut import LayerShapes, shapes_of
from flatten.foam.gauge import crown_gauges, rounding_gauges
from flatten.foam.parted import PartedLayer, parted_layer
from flatten.foam.rolled import rolled_notes
from flatten.foam.rounding import Rounding, roundings_of
from flatten.foam.stock_sheets import BoxSize, sheets_for_boxes
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
from meshes.base.units import Unit, place_words
from meshes.records.materials import CRUSH_LIMIT, Material
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad
from meshes.sheet.whole import Allowance
from meshes.support.chart import MakeProblem, make_problem_for

# A sheet of stock, mm (common practice, no source).
SHEET_MM = (1000.0, 2000.0)


@dataclass(frozen=True)
class Stock:
    """One layer as it is bought. layer: counted from the support; sheets_mm: thicknesses of the sheets that lie on each
    other, none where the material comes in no thickness; area_mm2: of all of them together."""

    layer: int
    material: str
    thickness_mm: float
    sheets_mm: tuple[float, ...]
    area_mm2: float

    @property
    def sheet_mm(self) -> float | None:
        """Thickness of its sheets, of the thickest where they differ; None where the material comes in none."""
        return max(self.sheets_mm, default=None)

    @property
    def sheets(self) -> int:
        """How many lie on each other."""
        return max(len(self.sheets_mm), 1)


@dataclass(frozen=True)
class Total:
    """All shapes of one material and thickness of sheet. cut_mm2: what is cut, every sheet of it; boxes: width and
    height round every shape, as often as it is cut; stock_sheets: how many sheets of SHEET_MM they take."""

    material: str
    sheet_mm: float | None
    shapes: int
    cut_mm2: float
    boxes: tuple[BoxSize, ...]

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
    rounded off once glued; gauges: card templates for that; crowns: those for blocks that are cut with a crown."""

    pad: str
    stock: tuple[Stock, ...]
    cut: tuple[LayerShapes, ...]
    height: SettledHeight
    thinner: tuple[Thinner, ...]
    notes: tuple[Problem, ...]
    roundings: tuple[Rounding, ...] = ()
    gauges: tuple[Piece, ...] = ()
    crowns: tuple[Piece, ...] = ()

    @property
    def drawn(self) -> tuple[Piece, ...]:
        """All that is drawn at full size: the shapes, and the gauges for rounding and crowning them."""
        return (*self.shapes, *self.gauges, *self.crowns)

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
    roundings = (*roundings, *rolled_edges(pad.pad))
    shapes = [
        shapes_of(pad.pad, one, materials[one.lie.layer.material], allowance, roundings=roundings, unit=unit)
        for one in laid
    ]
    shapes += _of_blocks(pad.pad, materials, roundings, unit)
    cut = tuple(sorted(shapes, key=lambda one: one.layers))
    notes += rolled_notes(pad.pad, [(one.numbers, one.rolled) for one in laid], make)
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
        crowns=crown_gauges(pad.pad),
    )


def _laid(
    pad: BuiltPad, materials: Mapping[str, Material], make_problem: MakeProblem
) -> tuple[list[PartedLayer], list[Problem]]:
    """All layers laid flat, and warnings for those that cannot be."""
    laid: list[PartedLayer] = []
    notes: list[Problem] = []
    for k, layer in enumerate(pad.pad.layers):
        if layer.sewn or layer.block is not None:
            continue
        try:
            made = parted_layer(pad.pad, k, materials, make_problem=make_problem, alignment=pad.alignment)
            laid += [] if made is None else [made]
        except ProblemError as fault:
            reason = "; ".join(problem.text for problem in fault.problems)
            text = f"no cutting shape for layer {k + 1}: {reason}; cut it to the pad itself"
            notes.append(replace(make_problem("G154", ("layer", k), text), warning=True))
    return laid, notes


def _of_blocks(
    pad: Pad, materials: Mapping[str, Material], roundings: Sequence[Rounding], unit: Unit
) -> list[LayerShapes]:
    """The shapes of all blocks."""
    made = [block_shapes(pad, k, materials[layer.material], roundings, unit) for k, layer in enumerate(pad.layers)]
    return [one for one in made if one is not None]


def _too_high(height: SettledHeight, make_problem: MakeProblem) -> Iterable[Problem]:
    if height.wanted_mm is not None and height.over_mm > 0.05:
        text = (
            f"the finished height is {height.found_mm:.1f} mm, {height.over_mm:.1f} mm more than the "
            f"{height.wanted_mm:g} mm asked for, highest at {place_words(*height.at)}; "
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
    for k, (name, _, _, area) in enumerate(pad.facts.layers, start=1):
        # A crown is cut off what is bought.
        whole = cut_from_mm(pad.pad.layers[k - 1])
        sheets = materials[name].laid_up(whole)
        rows.append(Stock(k, name, whole, sheets, max(len(sheets), 1) * area))
    return tuple(rows)


def totals(plans: Iterable[PadPlan]) -> tuple[Total, ...]:
    """What all shapes of a job take of every material, by thickness of sheet, in the order they come up."""
    found: dict[tuple[str, float | None], Total] = {}
    for shape, stock in (pair for plan in plans for pair in _with_stock(plan)):
        x0, y0, x1, y1 = shape.box()
        each = (shape.cut_count + shape.mirrored_count) // stock.sheets
        for sheet_mm in stock.sheets_mm or (None,):
            key = (shape.material or stock.material, sheet_mm)
            before = found.get(key, Total(*key, 0, 0.0, ()))
            found[key] = replace(
                before,
                shapes=before.shapes + each,
                cut_mm2=before.cut_mm2 + each * shape.cut_mm2,
                boxes=before.boxes + ((x1 - x0, y1 - y0),) * each,
            )
    return tuple(found.values())


def _with_stock(plan: PadPlan) -> Iterable[tuple[Piece, Stock]]:
    """Every shape with the stock of its layer; mirrored layers are laid up alike."""
    stock = {row.layer: row for row in plan.stock}
    return ((shape, stock[one.layers[0]]) for one in plan.cut for shape in one.shapes)


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
        # Judged in the whole percents in which it is told.
        if foam and round(share, 2) > CRUSH_LIMIT
    )
