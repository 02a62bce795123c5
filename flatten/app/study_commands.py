"""The commands that look at one thing: flatten one mesh, section a pad, relief for what is too tight.

Heavy imports stay inside the functions so that help is quick.
"""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from flatten.app.options import (
    AS_IT_IS,
    DOES_NOT_FIT,
    NO_LIMIT,
    RUN,
    TELL,
    MeshLimit,
    MeshOptions,
    PlaceOption,
    Running,
    Strict,
    SwitchOn,
    Telling,
)

if TYPE_CHECKING:
    from meshes.base.problems import Problem

SecondsOption = Annotated[float, Parameter(help="Go on looking for so many seconds; another run may end elsewhere.")]


def flatten_mesh(
    mesh: Path,
    /,
    *,
    out: Path,
    asked: MeshOptions = AS_IT_IS,
    strict: Strict = False,
    telling: Telling = TELL,
) -> int:
    """Flatten one panel: a disc of triangles in mm from a PLY, OBJ or STL file.

    Parameters
    ----------
    mesh
        The mesh file. Its vertex order and triangles are kept.
    out
        Folder for flat.ply and report.json. What was written there earlier is replaced when everything has succeeded.
    """
    from flatten.app.progress import progress
    from flatten.app.telling import print_json, tell_written
    from flatten.job.single import flatten_file, report_text, summary_text
    from flatten.leather.verdict import is_tight
    from meshes.base.problems import Problem, ProblemError

    if strict and asked.leather is None and asked.budget is None:
        raise ProblemError([Problem("C102", "--strict", "nothing to hold the piece to; add --leather or --budget")])
    with progress(quiet=telling.no_words) as say:
        single = flatten_file(
            mesh, out, leather=asked.leather, budget_pct=asked.budget, repair=asked.repair, progress=say
        )
    if (early := single.flat.unconverged(single.name)) is not None:
        print(early, file=sys.stderr)
    if telling.json:
        print_json(report_text(single))
    elif not telling.quiet:
        print(summary_text(single))
    tell_written(single.kept, out, quiet=telling.no_words)
    return DOES_NOT_FIT if strict and (is_tight(single.flat.verdict) or not single.flat.certified) else 0


def section(
    sheet: Path,
    /,
    *,
    pad: str,
    along: PlaceOption | None = None,
    across: PlaceOption | None = None,
    out: Path | None = None,
    telling: Running = RUN,
) -> int:
    """Cut a pad open: support, layers, the cover at rest, how round its edge is, and what padding would make it so.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    pad
        Name of the pad.
    along
        Cut along the pad at this place across it, from the centre line: a number in the unit of the sheet, or "3 in".
    across
        Cut across the pad at this place along it, from the front or bottom edge: a number in the unit of the sheet,
        or "12 1/2 in".
    out
        Folder for the drawing, its figures and full-size section gauges to cut from card.
    """
    from flatten.app.progress import progress
    from flatten.app.telling import print_json, tell_written
    from flatten.kept.pool import kept_on_disk, kept_pool
    from flatten.sections.section import SECTION, cut_pad, section_json, section_text, write_section
    from meshes.folder.output import folder_if

    notes: tuple[Problem, ...] = ()
    with folder_if(out, SECTION) as folder:
        with progress(quiet=telling.no_words) as say, kept_pool(kept_on_disk(telling.cache)) as pool:
            found = cut_pad(sheet, pad, along=along, across=across, progress=say, workers=pool)
        if folder is not None:
            notes = write_section(found, folder)
    if telling.json:
        print_json(section_json(found))
    elif not telling.quiet:
        print(section_text(found))
    if out is not None:
        tell_written(notes, out, quiet=telling.no_words)
    return 0


def relief(
    source: Path,
    /,
    *,
    apply: bool = False,
    out: Path | None = None,
    limit: MeshLimit = NO_LIMIT,
    every: bool = False,
    telling: Running = RUN,
) -> int:
    """Say where a dart or a seam helps most in what is too tight.

    Parameters
    ----------
    source
        A measurement sheet (TOML), or one panel as a mesh (PLY, OBJ, STL; mm).
    apply
        Cut the usual proposal into every panel that is too tight and do the job again (sheets only).
    out
        Folder for the proposals, drawn on the pieces and the seat; with --apply for the new patterns and report.
    every
        Look at every panel of a sheet, not only at those that are too tight.
    """
    from flatten.app.progress import progress
    from flatten.app.relief_command import relieve_and_tell
    from flatten.app.telling import print_json, tell_written
    from flatten.job.relieve import relief_json, relief_text, relieve_mesh
    from meshes.base.problems import Problem, ProblemError

    if source.suffix.lower() != ".toml":
        if apply:
            text = "cuts are made in the panels of a sheet, found a mesh file; leave --apply away"
            raise ProblemError([Problem("C104", "--apply", text)])
        if out is not None:
            text = "proposals for one mesh are printed, found a folder to write; leave --out away, or use a sheet"
            raise ProblemError([Problem("C103", "--out", text)])
        with progress(quiet=telling.no_words) as say:
            advice = (relieve_mesh(source, leather=limit.leather, budget_pct=limit.budget, progress=say),)
        if telling.json:
            print_json(relief_json(advice))
        elif not telling.quiet:
            print(relief_text(advice))
        return 0
    notes = relieve_and_tell(source, out, apply=apply, every=every, told=telling)
    if out is not None:
        tell_written(notes, out, quiet=telling.no_words)
    return 0


def compare(
    *sheets: Path,
    set: Annotated[tuple[str, ...], Parameter(negative=())] = (),
    scheduler: str | None = None,
    out: Path | None = None,
    telling: Running = RUN,
) -> int:
    """Put variants side by side: radius, crush, demand, verdicts, leather, padding stock.

    Parameters
    ----------
    sheets
        Measurement sheets (TOML); one is enough when values are set.
    set
        A value to try: pad.cushion.layer.1.thickness=30, or a range, =20..40:5. May be given more than once: for one
        place with another value each time, or for several, and then every value of one is tried with every value of
        the others. The sheet itself stays as it is.
    scheduler
        Address of a dask cluster that works them out, its workers with this program installed (extra [cluster]).
    out
        Folder for compare.html and compare.json.
    """
    from flatten.app.progress import progress
    from flatten.app.telling import print_json, tell_written
    from flatten.variants.many import tasks_of, worked_out_all
    from flatten.variants.settings import setting
    from flatten.variants.tables import COMPARE, compared_json, compared_text, write_compared
    from meshes.base.files import shown_name
    from meshes.base.problems import ProblemError
    from meshes.folder.output import folder_if

    notes: tuple[Problem, ...] = ()
    tasks = tasks_of(sheets, [setting(text) for text in set], cache=telling.cache)
    with folder_if(out, COMPARE) as folder:
        with progress(quiet=telling.no_words) as say:
            found = worked_out_all(tasks, progress=say, scheduler=scheduler)
        if all(one.refused for one in found):
            raise ProblemError([problem for one in found for problem in one.refused])
        if folder is not None:
            notes = write_compared(found, ", ".join(shown_name(path.stem) for path in sheets), folder)
    if telling.json:
        print_json(compared_json(found))
    elif not telling.quiet:
        print(compared_text(found))
    if out is not None:
        tell_written(notes, out, quiet=telling.no_words)
    return 0


def readings(sheet: Path, /, *, gauge: float = 2.0, tape: float = 3.0, telling: Telling = TELL) -> int:
    """Say which measurements matter: what each moves, five worth taking again, and how sure every seam is.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    gauge
        Error of a reading with gauges: heights of profiles and radii, in mm.
    tape
        Error of a reading with a tape: widths, depths, drops, in mm.
    """
    from flatten.app.progress import progress
    from flatten.app.telling import print_json
    from flatten.variants.readings import readings as found_for
    from flatten.variants.readings import readings_json, readings_text
    from meshes.base.problems import Problem, ProblemError

    wrong = [name for name, mm in (("--gauge", gauge), ("--tape", tape)) if not 0.0 < mm <= 50.0]
    if wrong:
        raise ProblemError([Problem("V117", wrong[0], "a reading is wrong by more than 0 and at most 50 mm")])
    with progress(quiet=telling.no_words) as say:
        found = found_for(sheet, gauge_mm=gauge, tape_mm=tape, progress=say)
    if telling.json:
        print_json(readings_json(found))
    elif not telling.quiet:
        print(readings_text(found))
    return 0


def hide(
    sheet: Path,
    /,
    *,
    out: Path | None = None,
    seconds: SecondsOption | None = None,
    flesh_up: SwitchOn = False,
    telling: Running = RUN,
) -> int:
    """Lay the pieces on the hides of the sheet: what comes from where, round flaws, and how much leather it takes.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML), with [[hide]].
    out
        Folder for a plan and full-size drawings of every hide, layout.json and order.csv; the one that make wrote will
        do: these files then take the place of those that make laid out.
    flesh_up
        Draw the hides as seen from the flesh side, for marking out on it.
    """
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import print_json, tell_rows, tell_written
    from flatten.hides.figures import layout_json
    from flatten.hides.laid import has_something_to_lay_on, lay_hides
    from flatten.hides.parted import make_for_hides as do
    from flatten.hides.words import laid_text
    from flatten.kept.pool import kept_on_disk, kept_pool
    from flatten.orders.prices import price_table
    from flatten.written.hide_files import hide_files, stale_report
    from flatten.written.writers import HIDE
    from meshes.base.problems import Problem, ProblemError
    from meshes.folder.output import folder_if

    if seconds is not None and not 0.0 < seconds <= 36000.0:
        text = f"seconds are above 0 and at most 36000, found {seconds:g}"
        raise ProblemError([Problem("C109", "--seconds", text)])
    notes: tuple[Problem, ...] = ()
    with folder_if(out, HIDE) as folder:
        asked = foretold(sheet, quiet=telling.no_words)
        if not has_something_to_lay_on(asked):
            raise ProblemError([asked.problem("S047", ("hide",), "the sheet has no [[hide]] to cut from")])
        price_table(asked)
        with progress(quiet=telling.no_words) as say, kept_pool(kept_on_disk(telling.cache)) as pool:
            job = do(asked, progress=say, workers=pool)
            say("laying pieces on hides", 0, 1)
            laid = lay_hides(job, seconds=seconds)
            if folder is not None:
                made = hide_files(job, laid, flesh_up=flesh_up)
                notes = (*folder.write(made.files), *stale_report(folder, job.sheet.revision), *made.notes)
    if telling.json:
        print_json(layout_json(laid).decode())
    elif not telling.quiet:
        print(laid_text(laid, unit=job.sheet.unit))
    # What is laid out is cut: what rows of fitting did to its pieces is told here as it is by make.
    tell_rows(job)
    if out is not None:
        tell_written(notes, out, quiet=telling.no_words)
    return 0
