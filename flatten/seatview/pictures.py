"""Pictures of a job's seat as PNG files: three sides with panels and seams, and the stretch of the leather on it."""

import io
from pathlib import Path

from PIL import Image

from flatten.job.pipeline import Job
from flatten.seatview.scenes import scene
from meshes.base.files import write_file
from meshes.base.problems import Problem
from meshes.view.view import Shot, pictures

# Name for the reader, file, what is shown, view.
SEAT = (
    ("from the front and above", "seat-front.png", "panels", "front"),
    ("from the side", "seat-side.png", "panels", "side"),
    ("from the rear and above", "seat-rear.png", "panels", "rear"),
    ("stretch of the leather on the seat", "seat-stretch.png", "stretch", "front"),
    ("foam crushed under the cover", "seat-compression.png", "compression", "front"),
    ("foam crushed, from the rear and above", "seat-compression-rear.png", "compression", "rear"),
    ("how far the cover went down", "seat-settled.png", "settled", "front"),
)


def seat_pictures(job: Job, folder: Path) -> tuple[dict[str, Path], tuple[Problem, ...]]:
    """Draw the seat into a folder: files by name, and a note when the painter had to draw them."""
    scenes = {show: scene(job, show) for show in dict.fromkeys(show for _, _, show, _ in SEAT)}
    drawn = pictures([Shot(scenes[show], view) for _, _, show, view in SEAT])
    files = {}
    for (name, file, _, _), image in zip(SEAT, drawn.images, strict=True):
        write_file(folder / file, png(image))
        files[name] = folder / file
    return files, painted_note(drawn.reason)


def painted_note(reason: str) -> tuple[Problem, ...]:
    """What to say when the painter drew; nothing when it did not have to."""
    if not reason:
        return ()
    text = (
        f"drawn by the built-in painter, as the graphics system could not ({reason}); "
        "the patterns are not touched by it"
    )
    return (Problem("V102", "pictures", text, warning=True),)


def png(image: Image.Image) -> bytes:
    """A picture as PNG bytes without date or other marks: the same picture gives the same bytes."""
    held = io.BytesIO()
    image.save(held, "PNG")
    return held.getvalue()
