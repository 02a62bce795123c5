"""The commands that do the whole job of a sheet: start, make, check, view.

Heavy imports stay inside the functions so that help is quick.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from flatten.app.options import DOES_NOT_FIT, DRAW, RUN, CacheOption, DrawingOptions, Running, Strict, SwitchOn

if TYPE_CHECKING:
    from flatten.job.make import Job


def start(file: Path, /, *, like: str | None = None) -> int:
    """Write a starter sheet: short for a kind of seat, or one in which every key is explained.

    Parameters
    ----------
    file
        The sheet to write; an existing file is never overwritten.
    like
        The kind of seat: back, bench, box, bucket, card, roll, slip or stool. Without it the sheet has every key.
    """
    from meshes.base.files import shown_name, write_file
    from meshes.base.problems import Problem, ProblemError
    from meshes.sheet.starter import KINDS, starter_text

    if like is not None and like not in KINDS:
        text = f'no such kind of seat: found "{like}"; use one of {", ".join(sorted(KINDS))}'
        raise ProblemError([Problem("C108", "--like", text)])
    name = shown_name(file)
    try:
        write_file(file, starter_text(like).encode(), new=True)
    except FileExistsError:
        text = "this file exists and is kept as it is; name another file"
        raise ProblemError([Problem("P101", name, text)]) from None
    print(f"{name} written. Fill in what you measured, then: trimloft make {name} --out patterns")
    return 0


def make(
    sheet: Path,
    /,
    *,
    out: Path,
    drawing: DrawingOptions = DRAW,
    strict: Strict = False,
    telling: Running = RUN,
) -> int:
    """Do the main job: sheet in, a folder of patterns, report and seat out.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    out
        Folder to write into. What was written there earlier is replaced when everything has succeeded; all else stays.
    """
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import tell_job, tell_written
    from flatten.hides.parted import make_for_hides as do
    from flatten.kept.pool import kept_on_disk, kept_pool
    from flatten.orders.prices import price_table
    from flatten.written.choices import paper_named, seen_from_flesh
    from flatten.written.job_folder import write_job
    from flatten.written.writers import MAKE
    from meshes.folder.output import output_folder

    if drawing.page is not None:
        paper_named(drawing.page)
    with output_folder(out, MAKE) as folder:
        asked = foretold(sheet, quiet=telling.no_words)
        price_table(asked)
        with progress(quiet=telling.no_words) as say, kept_pool(kept_on_disk(telling.cache)) as pool:
            job = do(asked, progress=say, workers=pool)
            if drawing.flesh_up:
                job = seen_from_flesh(job)
            wants: dict[str, Any] = {"page": drawing.page, "pictures": drawing.pictures, "both": drawing.both}
            job, notes = write_job(job, folder, **wants, say=say, workers=pool)
    tell_job(job, quiet=telling.quiet, json=telling.json, written=out / "report.json")
    tell_written(notes, out, quiet=telling.no_words)
    return _fits(job, strict=strict)


def check(sheet: Path, /, *, strict: Strict = False, watch: SwitchOn = False, telling: Running = RUN) -> int:
    """Compute everything, print the figures, write nothing.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML).
    watch
        Go on: compute again whenever the sheet is saved, and print what changed, before -> now. Ctrl-C ends it.
    """
    if watch:
        from flatten.app.watching import watch_sheet

        watch_sheet(sheet, telling)
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import tell_job
    from flatten.hides.parted import make_for_hides as do
    from flatten.kept.pool import kept_on_disk, kept_pool

    asked = foretold(sheet, quiet=telling.no_words)
    with progress(quiet=telling.no_words) as say, kept_pool(kept_on_disk(telling.cache)) as pool:
        job = do(asked, progress=say, workers=pool)
    tell_job(job, quiet=telling.quiet, json=telling.json)
    return _fits(job, strict=strict)


def view(sheet: Path, /, *, save: Path | None = None, show: str = "panels", cache: CacheOption = True) -> int:
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
    from flatten.hides.parted import make_for_hides as do
    from flatten.kept.pool import kept_on_disk, kept_pool

    check_view(show, save)
    asked = foretold(sheet)
    with progress() as say, kept_pool(kept_on_disk(cache)) as pool:
        job = do(asked, progress=say, workers=pool)
    view_sheet(job, save=save, show=show)
    if save is not None:
        tell_written((), save, quiet=False)
    return 0


def _fits(job: "Job", *, strict: bool) -> int:
    return DOES_NOT_FIT if strict and job.unfit else 0
