"""The command `trimloft`. Only thin commands here; heavy imports stay inside them so that help is quick.

Exit 0: done. 1: a fault of the program. 2: bad input, every problem on stderr, nothing written. 3: --strict and some
piece does not fit. 128 + signal: stopped. 141: nobody reads what it prints any more.
"""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, CycloptsError, Parameter

if TYPE_CHECKING:
    from flatten.job.make import Job
    from meshes.base.problems import Problem, ProblemError

BAD_INPUT, DOES_NOT_FIT = 2, 3

app = App(
    name="trimloft",
    version="0.1.0",
    help="From a measured seat to full-size cover patterns: the work between the tape measure and the knife.",
    help_format="plaintext",
)

Quiet = Annotated[bool, Parameter(negative=(), help="Print nothing but problems.")]
JsonOption = Annotated[bool, Parameter(negative=(), help="Print the report as JSON on stdout.")]
PlaceOption = Annotated[str, Parameter(allow_leading_hyphen=True)]
FleshUp = Annotated[bool, Parameter(negative=())]
Strict = Annotated[bool, Parameter(negative=(), help="Exit 3 when some piece does not fit its leather.")]


@app.command
def start(file: Path, /) -> int:
    """Write a starter sheet in which every key is explained.

    Parameters
    ----------
    file
        The sheet to write; an existing file is never overwritten.
    """
    from meshes.base.files import shown_name, write_file
    from meshes.base.problems import Problem, ProblemError
    from meshes.sheet.starter import starter_text

    name = shown_name(file)
    try:
        write_file(file, starter_text().encode(), new=True)
    except FileExistsError:
        text = "this file exists and is kept as it is; name another file"
        raise ProblemError([Problem("P101", name, text)]) from None
    print(f"{name} written. Fill in what you measured, then: trimloft make {name} --out patterns")
    return 0


@app.command
def make(
    sheet: Path,
    /,
    *,
    out: Path,
    page: str | None = None,
    pictures: bool = True,
    flesh_up: FleshUp = False,
    both: FleshUp = False,
    strict: Strict = False,
    quiet: Quiet = False,
    json: JsonOption = False,
) -> int:
    """Do the main job: sheet in, a folder of patterns, report and seat out.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    out
        Folder to write into. What was written there earlier is replaced when everything has succeeded; all else stays.
    page
        Paper of patterns.pdf: a4, letter or a3. Default: what the sheet says.
    pictures
        Whether to draw pictures of the seat.
    flesh_up
        Draw all pieces as seen from the flesh side, for marking out on it.
    both
        Draw mirrored pieces too, beside those that they mirror, instead of leaving the pattern to be turned over.
    """
    from flatten.app.output import MAKE, paper_named, seen_from_flesh, write_job
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import tell_job, tell_written
    from flatten.job.make import make as do
    from meshes.folder.output import output_folder

    if page is not None:
        paper_named(page)
    with output_folder(out, MAKE) as folder:
        asked = foretold(sheet, quiet=quiet or json)
        with progress(quiet=quiet or json) as say:
            job = do(asked, progress=say)
            if flesh_up:
                job = seen_from_flesh(job)
            job, notes = write_job(job, folder, page=page, pictures=pictures, both=both, say=say)
    tell_job(job, quiet=quiet, json=json)
    tell_written(notes, out, quiet=quiet or json)
    return _fits(job, strict=strict)


@app.command
def check(sheet: Path, /, *, strict: Strict = False, quiet: Quiet = False, json: JsonOption = False) -> int:
    """Compute everything, print the figures, write nothing.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    """
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import tell_job
    from flatten.job.make import make as do

    asked = foretold(sheet, quiet=quiet or json)
    with progress(quiet=quiet or json) as say:
        job = do(asked, progress=say)
    tell_job(job, quiet=quiet, json=json)
    return _fits(job, strict=strict)


@app.command(name="flatten")
def flatten_mesh(
    mesh: Path,
    /,
    *,
    out: Path,
    leather: str | None = None,
    budget: float | None = None,
    repair: tuple[str, ...] = (),
    strict: Strict = False,
    quiet: Quiet = False,
    json: JsonOption = False,
) -> int:
    """Flatten one panel: a disc of triangles in mm from a PLY, OBJ or STL file.

    Parameters
    ----------
    mesh
        The mesh file. Its vertex order and triangles are kept.
    out
        Folder for flat.ply and report.json. What was written there earlier is replaced when everything has succeeded.
    leather
        Name of a leather card, for budget and verdict.
    budget
        Demand allowed, in percent, instead of the card's.
    repair
        What may be repaired first: merge, orient, drop-loose, largest-part, turn-over. May be given more than once.
    """
    from flatten.app.progress import progress
    from flatten.app.telling import print_json, tell_written
    from flatten.job.single import flatten_file, report_text, summary_text
    from flatten.leather.verdict import is_tight
    from meshes.base.problems import Problem, ProblemError

    if strict and leather is None and budget is None:
        raise ProblemError([Problem("C102", "--strict", "nothing to hold the piece to; add --leather or --budget")])
    with progress(quiet=quiet or json) as say:
        single = flatten_file(mesh, out, leather=leather, budget_pct=budget, repair=repair, progress=say)
    if (early := single.flat.unconverged(single.name)) is not None:
        print(early, file=sys.stderr)
    if json:
        print_json(report_text(single))
    elif not quiet:
        print(summary_text(single))
    tell_written(single.kept, out, quiet=quiet or json)
    return DOES_NOT_FIT if strict and (is_tight(single.flat.verdict) or not single.flat.certified) else 0


@app.command
def view(sheet: Path, /, *, save: Path | None = None, show: str = "panels") -> int:
    """Show the seat: a window to turn and cut it in, or a picture.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    save
        Write a PNG instead of opening a window; needs no screen. Replaces only a picture saved so before.
    show
        What to draw: support, padded, panels, stretch (use of the leather), compression (crushed foam) or settled.
    """
    from flatten.app.progress import foretold, progress
    from flatten.app.seat_view import check_view, view_sheet
    from flatten.app.telling import tell_written
    from flatten.job.make import make as do

    check_view(show, save)
    asked = foretold(sheet)
    with progress() as say:
        job = do(asked, progress=say)
    view_sheet(job, save=save, show=show)
    if save is not None:
        tell_written((), save, quiet=False)
    return 0


@app.command
def section(
    sheet: Path,
    /,
    *,
    pad: str,
    along: PlaceOption | None = None,
    across: PlaceOption | None = None,
    out: Path | None = None,
    quiet: Quiet = False,
    json: JsonOption = False,
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
    from flatten.sections.section import SECTION, cut_pad, section_json, section_text, write_section
    from meshes.folder.output import folder_if

    notes: tuple[Problem, ...] = ()
    with folder_if(out, SECTION) as folder:
        with progress(quiet=quiet or json) as say:
            found = cut_pad(sheet, pad, along=along, across=across, progress=say)
        if folder is not None:
            notes = write_section(found, folder)
    if json:
        print_json(section_json(found))
    elif not quiet:
        print(section_text(found))
    if out is not None:
        tell_written(notes, out, quiet=quiet or json)
    return 0


@app.command
def relief(
    source: Path,
    /,
    *,
    apply: bool = False,
    out: Path | None = None,
    leather: str | None = None,
    budget: float | None = None,
    every: bool = False,
    quiet: Quiet = False,
    json: JsonOption = False,
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
    leather
        For a mesh: name of a leather card.
    budget
        For a mesh: demand allowed, in percent.
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
        with progress(quiet=quiet or json) as say:
            advice = (relieve_mesh(source, leather=leather, budget_pct=budget, progress=say),)
        if json:
            print_json(relief_json(advice))
        elif not quiet:
            print(relief_text(advice))
        return 0
    notes = relieve_and_tell(source, out, apply=apply, every=every, quiet=quiet, json=json)
    if out is not None:
        tell_written(notes, out, quiet=quiet or json)
    return 0


def _fits(job: "Job", *, strict: bool) -> int:
    return DOES_NOT_FIT if strict and job.unfit else 0


def _complain(fault: "ProblemError") -> int:
    from meshes.base.problems import told

    print(*told(fault.problems), sep="\n", file=sys.stderr)
    return BAD_INPUT


def main() -> None:
    """Run the command line and leave with its exit code."""
    from flatten.app.stopping import Stopped, listen, listen_no_more
    from flatten.app.streams import NO_READER, StreamFault, give_up, prepare
    from meshes.base.problems import Problem, ProblemError, plain
    from meshes.folder.temporary import remove_left_over

    # Small sparse solves run many times slower when every process starts its own threads; numpy reads this once, when
    # it is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    listen()
    prepare()
    remove_left_over()
    try:
        code = app(exit_on_error=False, print_error=False, result_action="return_value") or 0
        sys.stdout.flush()
    except CycloptsError as fault:
        print(f"trimloft: C101 {plain(str(fault))}; see trimloft --help", file=sys.stderr)
        code = BAD_INPUT
    except ProblemError as fault:
        code = _complain(fault)
    except MemoryError:
        text = "the memory does not suffice; make mesh in [output] larger, or close other programs"
        code = _complain(ProblemError([Problem("W102", "memory", text)]))
    except StreamFault as fault:
        give_up()
        code = NO_READER if fault.reason is None else _complain(ProblemError([fault.problem]))
    except Stopped as stopped:
        print(stopped, file=sys.stderr)
        code = stopped.exit_code
    listen_no_more()
    sys.exit(code)
