"""What is said of folded corners: on the piece, in the report and in the figures."""

from collections.abc import Sequence

from flatten.corners.lines import opens_to
from meshes.records.corners import CornerFinish
from meshes.seat.panels import CornerFold

# Layers of leather that lie over each other in a fold (geometry of a box corner).
FOLD_LAYERS = 3
# Layers by kind of corner: pleats of one drawn clean lie under the board, allowances of a seam lie open beside it.
CORNER_LAYERS = {
    CornerFinish.DRAWN: 1,
    CornerFinish.SINGLE: FOLD_LAYERS,
    CornerFinish.DOUBLE: FOLD_LAYERS,
    CornerFinish.SEWN: 2,
    CornerFinish.CUT: 2,
}
HOW = {
    CornerFinish.DRAWN: "drawn clean on the diagonal; lay what is left in small pleats under the board",
    CornerFinish.SINGLE: "one fold",
    CornerFinish.DOUBLE: "two folds that meet on the corner",
    CornerFinish.CUT: "cut in for the post, no fold; turn both flaps under along it",
}


def fold_notes(folds: Sequence[CornerFold], areas_mm2: Sequence[float]) -> tuple[str, ...]:
    """What a piece says of its folds, alike ones together; areas_mm2: of the leather of each."""
    told: dict[str, list[str]] = {}
    laid = False
    for fold, area in zip(folds, areas_mm2, strict=True):
        if fold.finish is CornerFinish.CUT:
            told.setdefault(HOW[fold.finish], []).append(fold.name.removesuffix(" fold"))
            continue
        laid = True
        opens = f", open to the {opens_to(fold.corner)}" if fold.finish is CornerFinish.SINGLE else ""
        layers = "" if fold.finish is CornerFinish.DRAWN else f", {FOLD_LAYERS} layers thick"
        words = f"{HOW[fold.finish]}{opens}, {fold.depth_mm:.0f} mm deep and {area / 100.0:.0f} cm² of leather{layers}"
        told.setdefault(words, []).append(fold.name.removesuffix(" fold"))
    trim = "make the relief cut only when the corner is pulled, and cut away what lies double under the board"
    notes = [f"{' and '.join(corners)} corner: {words}" for words, corners in told.items()]
    return (*notes, trim) if laid else tuple(notes)
