"""The seat as binary glTF 2.0 (seat.glb): one node per panel, one per seam line, for any viewer of models.

glTF is in metres, Y up, the front towards +Z (Khronos Group, glTF 2.0 specification, 3.4 and 5.19); the seat is in mm,
Z up, the front towards -Y. The same job gives the same bytes.
"""

import json
import struct
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from flatten.job.pipeline import Job
from flatten.seatview.lines import UseLine, use_lines
from flatten.seatview.scenes import opening_rings, pad_parts, panel_colours
from meshes.base.arrays import FloatArray
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.view.scene import FINE_COLOUR, LINE_COLOUR

_FLOAT, _UINT = 5126, 5125
_VERTICES, _INDICES = 34962, 34963
_LINES, _TRIANGLES = 1, 4
_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942


def seat_glb(job: Job) -> bytes:
    """The padded seat with its panels and seam lines as the bytes of a .glb file."""
    book = _Book()
    colours = panel_colours(job)
    # The budget's bands, not the strokes: hundreds of nodes would bury the pieces in a viewer's list.
    lines = [line for line in use_lines(job) if line.level is not None]
    roots = []
    for pad in job.pads:
        own = [line for line in lines if any(line.panel is panel for panel in pad.panels)]
        roots.append(_pad(book, pad, colours, own))
    return book.bytes(job.sheet.name, roots)


def _pad(book: "_Book", pad: BuiltPad, colours: dict[str, tuple[int, int, int]], fine: Sequence[UseLine]) -> int:
    """Nodes of one pad; returns the number of the node that holds them."""
    children = []
    for part in pad_parts(pad, colours):
        attributes = {
            "POSITION": book.numbers(_metres(part.vertices), _VERTICES, box=True),
            "NORMAL": book.numbers(_turned(part.normals), _VERTICES),
        }
        indices = book.numbers(part.triangles.ravel(), _INDICES)
        red, green, blue = (int(x) for x in part.colours[0])
        children.append(book.node(part.name, attributes, indices, _TRIANGLES, (red, green, blue)))
    points = placed(pad.shown.vertices, pad.placement)
    seams = [(f"seam {seam.name}", points[seam.vertices], LINE_COLOUR) for seam in pad.seams]
    rings = [(name, ring, LINE_COLOUR) for name, ring in opening_rings(pad)]
    for name, line, colour in (*seams, *rings, *((one.name, one.points, FINE_COLOUR) for one in fine)):
        attributes = {"POSITION": book.numbers(_metres(line), _VERTICES, box=True)}
        steps = np.arange(len(line))
        indices = book.numbers(np.column_stack([steps[:-1], steps[1:]]).ravel(), _INDICES)
        children.append(book.node(name, attributes, indices, _LINES, colour))
    book.nodes.append({"name": pad.pad.name, "children": children})
    return len(book.nodes) - 1


def _turned(vectors: FloatArray) -> FloatArray:
    return np.column_stack([vectors[:, 0], vectors[:, 2], -vectors[:, 1]])


def _metres(points: FloatArray) -> FloatArray:
    return _turned(points) / 1000.0


def _linear(colour: tuple[int, int, int]) -> list[float]:
    """Colour factors are linear light; ours are sRGB (IEC 61966-2-1)."""
    share = np.array(colour) / 255.0
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return [round(float(x), 4) for x in light] + [1.0]


class _Book:
    """Collects what a glTF file lists: numbers in one buffer, and the records that point into it."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []
        self.meshes: list[dict[str, Any]] = []
        self.materials: list[dict[str, Any]] = []
        self.nodes: list[dict[str, Any]] = []

    def numbers(self, values: npt.NDArray[Any], target: int, *, box: bool = False) -> int:
        """Add an array: (n, 3) as 32-bit floats, (n,) as 32-bit vertex numbers; returns its accessor."""
        spatial = values.ndim == 2
        held = values.astype("<f4" if spatial else "<u4")
        self.views.append({"buffer": 0, "byteOffset": len(self.data), "byteLength": held.nbytes, "target": target})
        self.data += held.tobytes()
        accessor: dict[str, Any] = {
            "bufferView": len(self.views) - 1,
            "componentType": _FLOAT if spatial else _UINT,
            "count": len(held),
            "type": "VEC3" if spatial else "SCALAR",
        }
        if box:
            accessor |= {"min": held.min(axis=0).astype(float).tolist(), "max": held.max(axis=0).astype(float).tolist()}
        self.accessors.append(accessor)
        return len(self.accessors) - 1

    def node(self, name: str, attributes: dict[str, int], indices: int, mode: int, colour: tuple[int, int, int]) -> int:
        """Add a mesh with one primitive and a node that shows it; returns the node's number."""
        plain = {"baseColorFactor": _linear(colour), "metallicFactor": 0.0, "roughnessFactor": 0.8}
        material = {"name": name, "doubleSided": True, "pbrMetallicRoughness": plain}
        if material not in self.materials:
            self.materials.append(material)
        primitive = {
            "attributes": attributes,
            "indices": indices,
            "mode": mode,
            "material": self.materials.index(material),
        }
        self.meshes.append({"name": name, "primitives": [primitive]})
        self.nodes.append({"name": name, "mesh": len(self.meshes) - 1})
        return len(self.nodes) - 1

    def bytes(self, name: str, roots: list[int]) -> bytes:
        """The whole file."""
        listing = {
            "asset": {"version": "2.0", "generator": "Trimloft"},
            "scene": 0,
            "scenes": [{"name": name, "nodes": roots}],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": self.materials,
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.data)}],
        }
        text = json.dumps(listing, separators=(",", ":"), ensure_ascii=False).encode()
        text += b" " * (-len(text) % 4)
        whole = 12 + 8 + len(text) + 8 + len(self.data)
        return (
            struct.pack("<III", _MAGIC, 2, whole)
            + struct.pack("<II", len(text), _JSON)
            + text
            + struct.pack("<II", len(self.data), _BIN)
            + bytes(self.data)
        )
