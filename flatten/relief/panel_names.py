"""Panels of a whole seat told apart: the results of a job are kept by their names."""

from collections.abc import Sequence
from dataclasses import replace

from flatten.relief.rejoin import PanelsAndSeams, joined
from meshes.base.surface import Surface
from meshes.seat.build import BuiltPad
from meshes.seat.names import told_apart
from meshes.seat.panels import Division, curves_of


def panels_told_apart(pads: Sequence[BuiltPad]) -> tuple[BuiltPad, ...]:
    """The same pads, each panel under a name of its own.

    A panel is called by its pad and its part: "seat" and "left face", "seat left" and "face". Where two come to the
    same words, the later one gets a number.
    """
    taken: set[str] = set()
    apart = []
    for pad in pads:
        names = told_apart([panel.name for panel in pad.panels], taken)
        taken |= set(names)
        apart.append(_renamed(pad, names))
    return tuple(apart)


def _renamed(pad: BuiltPad, names: Sequence[str]) -> BuiltPad:
    now = {panel.name: name for panel, name in zip(pad.panels, names, strict=True)}
    if all(old == new for old, new in now.items()):
        return pad
    panels = [
        replace(panel, name=now[panel.name], mirror_of=now[panel.mirror_of] if panel.mirror_of else None)
        for panel in pad.panels
    ]
    done, seams = joined(PanelsAndSeams(tuple(panels), pad.seams))
    surface = Surface(pad.surface.vertices, pad.surface.triangles, curves_of(done, seams))
    folds = tuple(replace(fold, panel=now[fold.panel]) for fold in pad.division.folds)
    return replace(pad, surface=surface, division=Division(done, seams, folds))
