"""What the command `relief` does with a sheet: proposals, told and drawn, or the cuts made and the job done again.

Proposed cuts are a folder: relief.json, a drawing of every piece, the seat as a picture, and one page with all.
"""

from pathlib import Path

from markupsafe import Markup

from flatten.app.options import Running
from flatten.app.progress import foretold, progress
from flatten.app.telling import print_json, tell_job
from flatten.hides.parted import sheet_for_hides
from flatten.job.applied import applied_text, apply_until_it_fits
from flatten.job.make import relieve_sheet
from flatten.job.relieve import SheetRelief, relief_json, relief_text
from flatten.kept.pool import kept_on_disk, kept_pool
from flatten.machine.workers import WorkerPool
from flatten.orders.prices import price_table
from flatten.report.markup import data_uri, whole_page
from flatten.seatview.pictures import png
from flatten.seatview.relief_drawing import piece_drawing, seat_scene, turn_of
from flatten.written.job_folder import write_job
from flatten.written.writers import APPLY
from meshes.base.problems import Problem
from meshes.folder.names import file_names
from meshes.folder.output import OutputFolder, Writer, folder_if
from meshes.view.view import Shot, pictures

RELIEF = Writer("relief", "trimloft relief", ("relief.json", "relief.html", "seat-relief.png", "relief *.svg"))


def relieve_and_tell(sheet: Path, out: Path | None, *, apply: bool, every: bool, told: Running) -> tuple[Problem, ...]:
    """Look for cuts, and make them if asked; print them, and write the folder if there is one. Returns what is to be
    told about the folder. The same processes serve from the first pad to the last round of cuts."""
    quiet, json = told.quiet, told.json
    with folder_if(out, APPLY if apply else RELIEF) as folder, kept_pool(kept_on_disk(told.cache)) as pool:
        asked = foretold(sheet, quiet=quiet or json)
        if apply and folder is not None:
            price_table(asked)
        with progress(quiet=quiet or json) as say:
            found = relieve_sheet(
                sheet_for_hides(asked, progress=say, workers=pool), every=every, progress=say, workers=pool
            )
        if json:
            print_json(relief_json(found.advice))
        elif not quiet:
            print(relief_text(found.advice))
        if apply:
            return _cut_and_write(found, folder, pool, quiet=quiet, json=json)
        return () if folder is None else write_relief(found, folder)


def _cut_and_write(
    found: SheetRelief, folder: OutputFolder | None, pool: WorkerPool, *, quiet: bool, json: bool
) -> tuple[Problem, ...]:
    """Make the cuts proposed and, where a folder is given, write the job that comes of it."""
    notes: tuple[Problem, ...] = ()
    with progress(quiet=quiet or json) as say:
        applied = apply_until_it_fits(found, progress=say, workers=pool)
        job = applied.job
        if folder is not None:
            job, notes = write_job(job, folder, say=say, workers=pool)
    if not quiet and not json:
        print(applied_text(found, applied))
        tell_job(job, quiet=False, json=False)
    return notes


def write_relief(found: SheetRelief, folder: OutputFolder) -> tuple[Problem, ...]:
    """Write the proposals; returns warnings about the folder."""
    drawings = {one.name: piece_drawing(one, turn_rad=turn_of(found.job, one)) for one in found.advice}
    image = png(pictures([Shot(seat_scene(found.job, found.advice), "front")]).images[0])
    names = file_names(drawings, ".svg", prefix="relief ")
    files = {names[name]: drawing.encode() for name, drawing in drawings.items()}
    files["seat-relief.png"] = image
    files["relief.html"] = _page(found, drawings, image).encode()
    files["relief.json"] = relief_json(found.advice).encode()
    return folder.write(files)


def _page(found: SheetRelief, drawings: dict[str, str], image: bytes) -> str:
    return whole_page(
        "relief.html",
        title=f"{found.job.sheet.name}: where a dart or a seam helps",
        words=relief_text(found.advice),
        drawings=[(name, Markup(drawing)) for name, drawing in drawings.items()],
        picture=data_uri(image),
    )
