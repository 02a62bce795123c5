"""Proposed cuts as a folder: relief.json, a drawing of every piece, the seat as a picture, and one page with all."""

from markupsafe import Markup

from flatten.job.relieve import SheetRelief, relief_json, relief_text
from flatten.report.markup import data_uri, whole_page
from flatten.seatview.pictures import png
from flatten.seatview.relief_drawing import piece_drawing, seat_scene, turn_of
from meshes.base.problems import Problem
from meshes.folder.names import file_names
from meshes.folder.output import OutputFolder, Writer
from meshes.view.view import Shot, pictures

RELIEF = Writer("relief", "trimloft relief", ("relief.json", "relief.html", "seat-relief.png", "relief *.svg"))


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
