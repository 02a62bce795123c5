"""Bands longer than one piece of leather gives: told, with the places at which a trimmer would join them.

A join lies at a rear corner where that is enough, never in the middle of the front. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.base.surface import curve_length
from meshes.padding.support_mesh import SupportMesh
from meshes.records.closed import LONGEST_BAND_MM
from meshes.seat.panels import Panel, PanelRole
from meshes.support.chart import Chart, MakeProblem
from meshes.support.line_roles import LineRole


def long_band_notes(meshed: SupportMesh, panels: Sequence[Panel], make_problem: MakeProblem) -> tuple[Problem, ...]:
    """Warnings for the bands of a pad that are longer along their tack line than one piece of leather gives."""
    notes = []
    for panel in panels:
        if panel.role is not PanelRole.BAND:
            continue
        runs = [panel.vertices[edge.vertices] for edge in panel.rim if edge.role is LineRole.TACK]
        long = sum(curve_length(panel.surface.vertices[e.vertices]) for e in panel.rim if e.role is LineRole.TACK)
        if long <= LONGEST_BAND_MM:
            continue
        at = _joins(meshed.chart, meshed.mesh.u[np.concatenate(runs)], long)
        places = ", ".join(f"[{x:.0f}, {y:.0f}]" for x, y in at + 0.0)
        text = f"the {panel.part} is {long:.0f} mm long, more than the {LONGEST_BAND_MM:g} mm one piece gives; "
        text += f"join it out of sight, say joins = [{places}] under [pad.bands]"
        notes.append(replace(make_problem("G189", ("bands", "joins"), text), warning=True))
    return tuple(notes)


def _joins(chart: Chart, u: FloatArray, long: float) -> FloatArray:
    """Places of the outline (k, 2) at which a band along places u (n,), so long in all, is joined."""
    reach = np.concatenate([[0.0], np.cumsum(np.tile(chart.outline.lengths, 3))])
    number = np.arange(len(reach), dtype=np.float64)
    period = chart.outline.period
    # In the order of the outline: the rim of a panel goes round it the other way.
    ordered = np.sort(np.unwrap(u, period=period))
    ordered += period * np.ceil(-ordered[0] / period)
    begin, end = np.interp([ordered[0], ordered[-1]], number, reach)
    most = LONGEST_BAND_MM * (end - begin) / long
    rear = (chart.outline.corner_between("right", "rear"), chart.outline.corner_between("rear", "left"))
    corners = sorted(np.interp(place + turn * period, number, reach) for place in rear for turn in (0, 1, 2))
    stops = [begin, *[c for c in corners if begin + 0.1 * most < c < end - 0.1 * most], end]
    cuts = stops[1:-1]
    for low, high in pairwise(stops):
        count = int(np.ceil((high - low) / most - 1e-9))
        # An odd number of even parts has no join in its middle.
        count += 1 - count % 2
        cuts += (low + (high - low) * np.arange(1, count) / count).tolist()
    return chart.outline.point(np.mod(np.interp(sorted(cuts), reach, number), period))
