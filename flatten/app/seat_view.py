"""The command `view`: a window on the seat, or one picture of it without a screen."""

import sys
from pathlib import Path

from flatten.job.pipeline import Job
from flatten.seatview.pictures import painted_note, png
from flatten.seatview.scenes import SHOWS, scene
from meshes.base.files import write_file
from meshes.base.problems import Problem, ProblemError, one_of
from meshes.view.view import Shot, pictures, window


def known_view(show: str) -> None:
    """Raise ProblemError when there is nothing of this name to show."""
    if show not in SHOWS:
        raise ProblemError([Problem("V103", "--show", f"nothing of this name: found {show!r}; use {one_of(SHOWS)}")])


def view_sheet(job: Job, *, save: Path | None = None, show: str = "panels") -> None:
    """Show a job's seat in a window, `show` first, or save a picture of it as PNG.

    Raises ProblemError for an unknown `show`, when the file cannot be written and when no window can be opened.
    """
    known_view(show)
    if save is None:
        window({word: scene(job, word) for word in (show, *(word for word in SHOWS if word != show))})
        return
    if save.suffix.lower() != ".png":
        raise ProblemError(
            [Problem("V104", "--save", f"a picture is written as PNG: found {save.name!r}; end it in .png")]
        )
    drawn = pictures([Shot(scene(job, show), "front")])
    write_file(save, png(drawn.images[0]))
    for note in painted_note(drawn.why):
        print(note, file=sys.stderr)
