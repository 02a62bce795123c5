"""Reads the finished PDF files back with another library, and renders them, for the tests of paper."""

import io
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream

POINT_MM = 25.4 / 72.0
CAPITAL_SHARE = 1493.0 / 2048.0  # of DejaVu Sans, from its OS/2 table


@dataclass(frozen=True)
class Path_:
    """One stroked path: points (k, 2) mm on the page, and whether it is closed."""

    points: np.ndarray
    closed: bool


def page_paths(reader: PdfReader, number: int) -> dict[str, list[Path_]]:
    """All stroked paths of a page by the name of their layer ("" outside all layers), in mm on the page."""
    page = reader.pages[number]
    found: dict[str, list[Path_]] = {}
    _walk(reader, page.get_contents(), page["/Resources"], np.eye(3), "", found)
    return found


def _walk(reader, stream, resources, matrix, layer, found):
    if not isinstance(stream, ContentStream):
        stream = ContentStream(stream, reader)
    saved, points, closed, parts = [], [], False, []
    for operands, operator in stream.operations:
        if operator == b"q":
            saved.append(matrix)
        elif operator == b"Q":
            matrix = saved.pop()
        elif operator == b"cm":
            matrix = _matrix(operands) @ matrix
        elif operator == b"m":
            points = [_at(operands, matrix)]
            parts.append(points)
        elif operator == b"l":
            points.append(_at(operands, matrix))
        elif operator == b"BDC" and operands[0] == "/OC":
            layer = resources["/Properties"][operands[1]]["/Name"]
        elif operator == b"EMC":
            layer = ""
        elif operator == b"h":
            closed = True
        elif operator in (b"S", b"s"):
            found.setdefault(layer, []).extend(Path_(np.array(p), closed or operator == b"s") for p in parts)
            closed, parts = False, []
        elif operator in (b"n", b"f", b"f*"):
            closed, parts = False, []
        elif operator == b"Do":
            form = resources["/XObject"][operands[0]]
            inner = _matrix(form.get("/Matrix", [1, 0, 0, 1, 0, 0])) @ matrix
            group = form.get("/OC")
            _walk(reader, form, form.get("/Resources", resources), inner, group["/Name"] if group else layer, found)


def _matrix(values):
    a, b, c, d, e, f = (float(v) for v in values)
    return np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]])


def _at(operands, matrix):
    return (np.array([float(operands[0]), float(operands[1]), 1.0]) @ matrix)[:2] * POINT_MM


def closed_lengths(paths: list[Path_]) -> list[float]:
    """Perimeter of every closed path, mm, ascending."""
    rings = [p.points for p in paths if p.closed]
    return sorted(float(np.linalg.norm(np.roll(p, -1, axis=0) - p, axis=1).sum()) for p in rings)


def rendered(pdf: bytes, folder: Path, dpi: int) -> list[np.ndarray]:
    """Every page as grey values (rows from the top), drawn by poppler."""
    source = folder / "paper.pdf"
    source.write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", str(source), str(folder / "page")], check=True)
    files = sorted(folder.glob("page-*.pgm"))
    return [np.asarray(Image.open(file)) for file in files]


def opened(pdf: bytes) -> PdfReader:
    """The file in another library's hands."""
    return PdfReader(io.BytesIO(pdf))


def page_words(reader: PdfReader, number: int) -> list[tuple[str, float]]:
    """What is written on a page, in runs, with the height of its capitals in mm."""
    found: list[tuple[str, float]] = []

    def heard(text, _matrix, _text_matrix, _font, size):
        if text.strip() and size:
            found.append((text.strip(), size * POINT_MM * CAPITAL_SHARE))

    reader.pages[number].extract_text(visitor_text=heard)
    return found


def dxf_entities(drawing):
    """Everything drawn in a DXF drawing, with what is in blocks where they are inserted."""
    for entity in drawing.modelspace():
        if entity.dxftype() == "INSERT":
            yield from entity.virtual_entities()
        else:
            yield entity
