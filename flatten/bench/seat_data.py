"""The seat as the page draws it: one block of bytes with a head of plain data, small enough for a tablet.

The block: length of the head (4 bytes, little end first), the head as JSON padded with blanks to a multiple of 4, then
arrays, each at an even place. Places are counted in whole steps of 1/65535 of the seat's longest side (0.02 mm on a
seat of 1.3 m) from its lowest corner, so that three states of the surface cost 18 bytes a vertex.
"""

import json
import struct
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from flatten.draw.stretch_map import reach_of, shown_use
from flatten.job.pipeline import Job
from flatten.seatview.boards import board_face
from flatten.seatview.scenes import panel_colours
from flatten.seatview.settled_scenes import change_mm_of, crush_of
from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.contours import at_vertices
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# Shares are told in thousandths, lengths in hundredths of a mm, both as 16-bit numbers.
_SHARE_STEPS, _MM_STEPS = 1000.0, 100.0
_NO_VALUE = -32768
STATES = ("bare", "padded", "settled")


def seat_bytes(job: Job) -> bytes:
    """The seat of a job. Places in seat coordinates; per vertex of a pad how far it went down and how far foam is
    crushed, per vertex of a panel what it uses of its leather; seams as numbers of vertices."""
    pads = [_PadStates(job, pad) for pad in job.pads]
    points = np.concatenate([state for pad in pads for state in pad.states])
    low = points.min(axis=0)
    step = max(float((points.max(axis=0) - low).max()), 1.0) / 65535.0
    block = _ByteBlock(low, step)
    head = {
        "name": job.sheet.name,
        "unit": job.sheet.unit,
        "low": low.round(6).tolist(),
        "high": points.max(axis=0).round(6).tolist(),
        "step": step,
        "pads": [pad.head(block) for pad in pads],
    }
    text = json.dumps(head, separators=(",", ":"), ensure_ascii=False).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + bytes(block.data)


class _ByteBlock:
    """The arrays behind the head, each as [place, count]."""

    def __init__(self, low: FloatArray, step: float) -> None:
        self.low, self.step = low, step
        self.data = bytearray()

    def add(self, values: npt.NDArray[Any]) -> list[int]:
        self.data += b"\0" * (-len(self.data) % 4)
        place = len(self.data)
        self.data += np.ascontiguousarray(values).tobytes()
        return [place, int(values.size)]

    def points(self, points: FloatArray) -> list[int]:
        return self.add(np.rint((points - self.low) / self.step).clip(0, 65535).astype("<u2"))

    def shares(self, values: FloatArray, steps: float) -> list[int]:
        scaled = np.where(np.isfinite(values), np.nan_to_num(values) * steps, _NO_VALUE)
        return self.add(np.rint(scaled).clip(_NO_VALUE, 32767).astype("<i2"))

    def numbers(self, numbers: Sequence[int] | IntArray) -> list[int]:
        return self.add(np.asarray(numbers).ravel().astype("<u4"))


class _PadStates:
    """One pad in its three states, seat coordinates."""

    def __init__(self, job: Job, pad: BuiltPad) -> None:
        self.job, self.pad = job, pad
        self.boards = [board_face(pad, panel) for panel in pad.panels] if pad.pad.board is not None else []
        if self.boards:
            flat = placed(np.concatenate([points for points, _ in self.boards]), pad.placement)
            self.states: list[FloatArray] = [flat, flat, flat]
            return
        shown = pad.shown.vertices
        free = shown if pad.rest is None else pad.rest.free
        kept = [state if len(state) == len(shown) else shown for state in (pad.support.vertices, free, shown)]
        self.states = [placed(state, pad.placement) for state in kept]

    def head(self, block: _ByteBlock) -> dict[str, Any]:
        pad = self.pad
        found: dict[str, Any] = {
            "name": pad.pad.name,
            "kind": pad.pad.kind,
            "on_frame": pad.pad.on_frame,
            "rests": pad.rest is not None,
        }
        found |= {word: block.points(state) for word, state in zip(STATES, self.states, strict=True)}
        found["placement"] = pad.placement.round(9).ravel().tolist()
        found["panels"] = [self._panel(block, k, panel) for k, panel in enumerate(pad.panels)]
        if self.boards:
            return found | {"down": None, "crush": None, "seams": [], "folds": [], "valleys": []}
        found["valleys"] = [block.numbers(path) for path in self._valleys()]
        found["down"] = block.shares(change_mm_of(pad), _MM_STEPS)
        found["crush"] = block.shares(crush_of(pad), _SHARE_STEPS)
        found["seams"] = [
            {"name": seam.name, "a": seam.a, "b": seam.b, "welt": seam.welt, "path": block.numbers(seam.vertices)}
            for seam in pad.seams
        ]
        found["folds"] = [
            {"panel": fold.panel, "triangles": block.numbers(pad.shown.triangles[fold.triangles])}
            for fold in pad.division.folds
        ]
        return found

    def _valleys(self) -> Sequence[IntArray]:
        """Stitch lines of pleats, as numbers of vertices of the shown surface."""
        pleats = self.pad.pleats
        return () if pleats is None else pleats.valleys

    def _panel(self, block: _ByteBlock, k: int, panel: Panel) -> dict[str, Any]:
        if self.boards:
            points, triangles = self.boards[k]
            first = sum(len(before) for before, _ in self.boards[:k])
            vertices: IntArray = np.arange(first, first + len(points))
            use = None
        else:
            vertices, triangles = panel.vertices, panel.surface.triangles
            use = self._use(panel)
        red, green, blue = panel_colours(self.job)[panel.name]
        return {
            "name": panel.name,
            "mirror_of": panel.mirror_of,
            "colour": f"#{red:02x}{green:02x}{blue:02x}",
            "vertices": block.numbers(vertices),
            "triangles": block.numbers(triangles),
            "use": None if use is None else block.shares(use, _SHARE_STEPS),
        }

    def _use(self, panel: Panel) -> FloatArray | None:
        flat = self.job.flats.get(panel.name)
        if flat is None:
            return None
        shown = shown_use(flat.stretch, flat.use, reach_of(self.job.leather))
        return at_vertices(panel.surface.vertices, panel.surface.triangles, shown)
