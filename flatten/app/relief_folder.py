"""Proposed cuts as a folder: relief.json, a drawing of every piece, the seat as a picture, and one page with all."""

import base64

from flatten.job.relieve import SheetRelief, relief_json, relief_text
from flatten.report.markup import esc
from flatten.seatview.pictures import png
from flatten.seatview.relief_drawing import piece_drawing, seat_scene, turn_of
from meshes.base.problems import Problem
from meshes.folder.names import file_names
from meshes.folder.output import OutputFolder, Writer
from meshes.view.view import Shot, pictures

RELIEF = Writer("relief", "trimloft relief", ("relief.json", "relief.html", "seat-relief.png", "relief *.svg"))
_LOOKS = (
    "body{font-family:sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#2c2a28}"
    "svg,img{max-width:100%;height:auto}pre{white-space:pre-wrap}"
)


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
    title = f"{esc(found.job.sheet.name)}: where a dart or a seam helps"
    parts = [f"<h1>{title}</h1>", f"<pre>{esc(relief_text(found.advice))}</pre>"]
    if drawings:
        how = (
            "To have one made, put it into the sheet as [[relief]] with panel and apply = its number, "
            "or run trimloft relief with --apply."
        )
        parts.append(f"<p>{esc(how)}</p>")
        picture = base64.b64encode(image).decode()
        parts.append(f'<img alt="the seat with the proposed cuts" src="data:image/png;base64,{picture}">')
    parts += [f"<h2>{esc(name)}</h2>{drawing}" for name, drawing in drawings.items()]
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{title}</title>'
    body = "".join(parts)
    return f"<!doctype html><html lang=en><head>{head}<style>{_LOOKS}</style></head><body>{body}</body></html>\n"
