"""The commands `fit`, what was noted at a dry fit, written into the sheet as a row and done to the pieces, and `strip`,
what strips of the leather and blocks of foam gave.

Heavy imports stay inside the functions so that help is quick.
"""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from flatten.app.options import PlaceOption, SwitchOn

if TYPE_CHECKING:
    from flatten.job.make import Job
    from flatten.pieces.piece import Piece


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class FitOptions:
    """One row of fitting. Lengths as in the sheet: 6, or "1/4 in".

    Parameters
    ----------
    piece
        The piece, as the cut list has it. Without it the places of all pieces are listed, and nothing is written.
    edge
        Its edge, as it is written along it.
    start
        The mark where the stretch begins: 3, centre, "2 towards left band".
    to
        The mark where it ends.
    take_in
        By how much the stitch line goes into the piece.
    let_out
        By how much it goes out.
    alone
        It is off on this side alone: of a mirrored pair only the piece that is named is moved.
    in_all
        The amount is shared by both layers of the seam, instead of each taking it.
    round
        Which dry fit it was noted at; without it the latest there is.
    new_round
        It is the first row of another dry fit.
    found
        What was seen: loose, dimple, "drag line", "corner empty", "seam off the ridge".
    towards
        Of a drag line: the edge or corner it runs to.
    stretched
        By what share the leather was found stretched: 0.04 is 4 %.
    way
        Of that stretch: along or across the backbone.
    padding
        By how much the padding is to be higher there; below 0 lower.
    taper
        Over how much padding that is to be higher runs out around that place.
    """

    piece: str | None = None
    edge: str | None = None
    start: Annotated[str | None, Parameter(name="--from")] = None
    to: str | None = None
    take_in: str | None = None
    let_out: str | None = None
    alone: SwitchOn = False
    in_all: SwitchOn = False
    round: int | None = None
    new_round: SwitchOn = False
    found: str | None = None
    towards: str | None = None
    stretched: float | None = None
    way: str | None = None
    padding: PlaceOption | None = None
    taper: str | None = None

    def row(self) -> dict[str, Any]:
        """The row's keys as a sheet has them; None for those that were not given."""
        from meshes.schema.cover_tables import IN_ALL

        return {
            "round": self.round,
            "piece": self.piece,
            "edge": self.edge,
            "from": self.start,
            "to": self.to,
            "take_in": _length(self.take_in),
            "let_out": _length(self.let_out),
            "counted": IN_ALL if self.in_all else None,
            "alone": self.alone or None,
            "found": self.found,
            "towards": self.towards,
            "stretched": self.stretched,
            "way": self.way,
            "padding": _length(self.padding),
            "taper": _length(self.taper),
        }


NO_ROW = FitOptions()


def fit(sheet: Path, /, *, noted: FitOptions = NO_ROW) -> int:
    """Note what was off at a dry fit: a row is written into the sheet, and you are told what it does to the pieces.

    Without --piece all pieces, their edges and marks are listed, and the rows so far. Nothing is written when the row
    cannot be followed. The text before is kept, and the bench page can go back to it.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    """
    from meshes.base.problems import Problem, ProblemError

    if noted.piece is not None:
        return _write(sheet, noted)
    if noted != NO_ROW:
        raise ProblemError([Problem("C110", "--piece", "a row needs a piece; run trimloft fit SHEET to see which")])
    from flatten.app.progress import foretold

    asked = foretold(sheet)
    try:
        job = _made(asked)
    except ProblemError as refused:
        if any(problem.keys[:1] != ("fit",) for problem in refused.problems):
            raise
        # What a row has to name is in the list, so it comes with what is wrong with the row.
        print(_listed(_made(replace(asked, fits=()))))
        raise
    print(_listed(job))
    return 0


def _write(path: Path, noted: FitOptions) -> int:
    from flatten.sheets.fit_rows import fit_row, with_fit_row
    from flatten.sheets.folder import SheetFolder
    from flatten.sheets.refusals import RefusedError
    from meshes.base.files import shown_name
    from meshes.base.problems import ProblemError

    folder = SheetFolder(path.parent)
    try:
        before = folder.state(path.name)
        row = fit_row(folder.tables(path.name, before.text), noted.row(), new_round=noted.new_round)
        text = with_fit_row(before.text, row)
        job = _made(folder.sheet(path.name, text))
        folder.save(path.name, text, base=before.mark)
    except RefusedError as refused:
        raise ProblemError([refused.problem]) from None
    _tell(job, len(job.sheet.fits) - 1)
    print(f"{shown_name(path)}: row {len(job.sheet.fits)} written, round {row['round']}")
    return 0


def _made(sheet: Any) -> "Job":
    from flatten.app.progress import progress
    from flatten.hides.parted import make_for_hides
    from flatten.kept.pool import kept_on_disk, kept_pool

    with progress() as say, kept_pool(kept_on_disk(True)) as pool:
        return make_for_hides(sheet, progress=say, workers=pool)


def _tell(job: "Job", row: int) -> None:
    """What one row did, and what is worth knowing of it."""
    from meshes.base.units import in_shop_unit

    unit = job.sheet.unit
    fitting = job.fitting
    for done in () if fitting is None else fitting.told:
        if done.note.row == row:
            print(in_shop_unit(done.words, unit=unit))
    for problem in job.problems:
        if problem.keys[:2] == ("fit", row):
            print(in_shop_unit(str(problem), unit=unit))


def _listed(job: "Job") -> str:
    """All pieces with their edges and the marks along them, those of pairs by themselves as well, and the rows there
    are."""
    from flatten.fit.one_side import without_images
    from flatten.pieces.pattern import drawn_pieces
    from meshes.base.units import in_shop_unit

    lines, fitting = [], job.fitting
    flats = job.flats if fitting is None else fitting.before
    for pad in job.pads if fitting is None else fitting.whole:
        pieces = drawn_pieces(pad, flats, job.sheet.allowance, job.makes)
        for piece in pieces:
            lines += _edges_listed(piece, f"{piece.pad} {piece.name}")
        pairs = {piece.panels[0] for piece in pieces if len(piece.panels) > 1}
        if pairs:
            by_itself = drawn_pieces(without_images(pad, pairs), flats, job.sheet.allowance, job.makes)
            named = {name for piece in pieces if len(piece.panels) > 1 for name in piece.panels}
            for piece in (one for one in by_itself if one.panels[0] in named):
                lines += _edges_listed(piece, f"{piece.pad} {piece.name} by itself, with alone = true")
    for done in () if fitting is None else fitting.told:
        lines.append(f"row {done.note.row + 1}, {done.words}")
    return in_shop_unit("\n".join(lines), unit=job.sheet.unit)


def _edges_listed(piece: "Piece", name: str) -> list[str]:
    """A piece with its edges and the marks along each, as a row of fitting names them."""
    from flatten.fit.places import edge_names, edge_sides, places_on
    from flatten.fit.words import SIDES_ARE

    sides = edge_sides(piece)
    lines = [f"{name}{SIDES_ARE if any(sides) else ''}"]
    for k, (edge, side) in enumerate(zip(edge_names(piece), sides, strict=True)):
        where = f" ({side})" if side else ""
        lines.append(f"    {edge}{where}: {', '.join(place.name for place in places_on(piece, k))}")
    return lines


def strip(sheet: Path, /, *, out: Path | None = None) -> int:
    """Print a worksheet for a strip test, and tell what the sheet's strips and blocks gave, with their scatter.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML); readings stand in it under [[strip]] and [material.NAME.block].
    out
        Write the worksheet as this PDF; an existing file is never overwritten.
    """
    from flatten.leather.card_file import card_from_sheet
    from flatten.leather.measured import strip_text
    from flatten.report.strip_sheet import strip_sheet_pdf
    from meshes.base.files import shown_name, write_file
    from meshes.base.problems import Problem, ProblemError
    from meshes.base.units import in_shop_unit
    from meshes.sheet.read import read_sheet

    read = read_sheet(sheet)
    if out is not None:
        try:
            write_file(out, strip_sheet_pdf(read.output.page, unit=read.unit), new=True)
        except FileExistsError:
            text = "this file exists and is kept as it is; name another file"
            raise ProblemError([Problem("P101", shown_name(out), text)]) from None
        print(f"written: {shown_name(out)}")
    for warning in (one for one in read.warnings if one.keys[:1] == ("strip",)):
        print(in_shop_unit(str(warning), unit=read.unit))
    print(strip_text(card_from_sheet(read), read.strips, read.materials))
    return 0


def _length(given: str | None) -> float | int | str | None:
    """A length as a sheet has it: a number without quotes where it is one."""
    if given is None:
        return None
    try:
        number = float(given)
    except ValueError:
        return given
    return int(number) if number.is_integer() else number
