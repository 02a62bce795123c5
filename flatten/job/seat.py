"""Parts of the main job for those who call it from Python: all pads of a sheet, and flat maps of all their panels."""

from collections.abc import Sequence
from pathlib import Path

from flatten.job.flats import matched_flats
from flatten.job.pads import built_pads, with_advice
from flatten.job.settled_maps import SeatBeforeCuts, settled_maps
from flatten.job.tension import agreed
from flatten.leather.card_file import card_from_sheet
from flatten.machine.workers import Workers, worker_pool
from flatten.maps.flat import Flat
from flatten.relief.panel_names import panels_told_apart
from meshes.base.problems import ProblemError
from meshes.base.progress import Progress, unheard
from meshes.seat.build import BuiltPad
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Sheet


def build_pads(
    sheet: Sheet | str | Path, *, progress: Progress | None = None, workers: Workers = 2
) -> tuple[BuiltPad, ...]:
    """All pads of a sheet, or of the one at a path, exactly as the main job builds them.

    Settled at the tension their pieces pull with, with the sheet's own materials, pleats lined up, and pads going on
    from their neighbours. Raises ProblemError with every problem found. Writes nothing.
    """
    say = progress or unheard
    with worker_pool(workers) as pool:
        try:
            asked = sheet if isinstance(sheet, Sheet) else read_sheet(Path(sheet))
            leather = card_from_sheet(asked)
            found = agreed(asked, leather, pool.map, say)
            pads = built_pads(asked, found.tensions, pool.map, say, begin=found.begin)
            seat = SeatBeforeCuts(pads, tuple(found.tensions))
        except ProblemError as fault:
            raise with_advice(sheet, fault) from None
        return panels_told_apart(settled_maps(asked, leather, seat, pool.map, say).seat.pads)


def flatten_pads(
    sheet: Sheet, pads: Sequence[BuiltPad], *, progress: Progress | None = None, workers: Workers = 2
) -> dict[str, Flat]:
    """Flat maps of all panels of a sheet's pads by name, both sides of every seam of one length, exactly as the main
    job has them. Raises ProblemError when a panel cannot be flattened."""
    say = progress or unheard
    with worker_pool(workers) as pool:
        return matched_flats(sheet, card_from_sheet(sheet), pads, pool.map, say)
