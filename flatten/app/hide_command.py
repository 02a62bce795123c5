"""The command `hide`: the pieces of a sheet on its hides, as plans and full-size drawings, and what to order."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from flatten.app.options import TELL, SwitchOn, Telling

SecondsOption = Annotated[float, Parameter(help="Go on looking for so many seconds; another run may end elsewhere.")]


def hide(
    sheet: Path,
    /,
    *,
    out: Path | None = None,
    seconds: SecondsOption | None = None,
    flesh_up: SwitchOn = False,
    telling: Telling = TELL,
) -> int:
    """Lay the pieces on the hides of the sheet: what comes from where, round flaws, and how much leather it takes.

    Parameters
    ----------
    sheet
        The measurement sheet (TOML), with [[hide]].
    out
        Folder for a plan and full-size drawings of every hide, layout.json and order.csv.
    flesh_up
        Draw the hides as seen from the flesh side, for marking out on it.
    """
    from flatten.app.progress import foretold, progress
    from flatten.app.telling import print_json, tell_written
    from flatten.hides.figures import layout_json
    from flatten.hides.laid import lay_hides
    from flatten.hides.words import laid_text
    from flatten.job.make import make as do
    from flatten.written.hide_files import HIDE_FILES, hide_files
    from meshes.base.problems import Problem, ProblemError
    from meshes.folder.output import Writer, folder_if

    if seconds is not None and not 0.0 < seconds <= 36000.0:
        text = f"seconds are above 0 and at most 36000, found {seconds:g}"
        raise ProblemError([Problem("C109", "--seconds", text)])
    notes: tuple[Problem, ...] = ()
    with folder_if(out, Writer("hide", "trimloft hide", HIDE_FILES)) as folder:
        asked = foretold(sheet, quiet=telling.no_words)
        with progress(quiet=telling.no_words) as say:
            job = do(asked, progress=say)
            if not job.sheet.hides.hides:
                raise ProblemError([job.sheet.problem("S047", ("hide",), "the sheet has no [[hide]] to cut from")])
            say("laying pieces on hides", 0, 1)
            laid = lay_hides(job, seconds=seconds)
            if folder is not None:
                notes = folder.write(hide_files(job, laid, flesh_up=flesh_up).files)
    if telling.json:
        print_json(layout_json(laid).decode())
    elif not telling.quiet:
        print(laid_text(laid))
    if out is not None:
        tell_written(notes, out, quiet=telling.no_words)
    return 0
