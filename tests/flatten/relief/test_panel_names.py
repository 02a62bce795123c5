"""Results of a job are kept by panel names: no two panels of a seat have the same one."""

from flatten.job.pipeline import finish
from flatten.job.settled_maps import SeatBeforeCuts
from flatten.leather.card import CARDS
from flatten.relief.panel_names import panels_told_apart
from meshes.seat.build import build
from tests.pads import FLAT, sheet_of

LINE = '[[pad.line]]\nname = "middle"\npoints = [[0, 0], [0, 300]]\n'
PLAIN = FLAT.split("[[pad]]")[1].replace("depth = 300", "depth = 280")
# "seat" with a left and a right face, and "seat left" with a face of its own.
TWO = (
    FLAT.replace('"cushion"\nkind', '"seat"\nkind')
    + LINE
    + "[[pad]]"
    + PLAIN.replace('"cushion"\nkind', '"seat left"\nkind')
)


def test_two_pads_whose_names_run_into_each_other_keep_all_their_pieces():
    sheet = sheet_of(TWO)
    pads = [build(pad, edge_mm=22.0) for pad in sheet.pads]
    assert len({panel.name for pad in pads for panel in pad.panels}) < sum(len(pad.panels) for pad in pads)
    job = finish(sheet, next(iter(CARDS.values())), SeatBeforeCuts(tuple(pads), (0.0,) * len(pads)), workers=1)
    count = sum(len(pad.panels) for pad in pads)
    assert len(job.panels) == len(job.flats) == count
    for name, panel in job.panels.items():
        assert len(job.flats[name].points) == len(panel.vertices)
        assert job.flats[name].figures.area_seat_mm2 > 0
        assert panel.mirror_of is None or job.panels[panel.mirror_of].pad == panel.pad
    names = [seam.name for seam in job.seams]
    assert len(set(names)) == len(names) == sum(len(pad.seams) for pad in pads)
    for seam in (seam for pad in job.pads for seam in pad.seams):
        assert {seam.a, seam.b} <= set(job.panels)
    drawn = sorted(name for piece in job.pieces for name in piece.panels)
    assert drawn == sorted(job.panels)


def test_pads_that_are_told_apart_already_stay_as_they_are():
    sheet = sheet_of(TWO)
    pads = panels_told_apart([build(pad, edge_mm=22.0) for pad in sheet.pads])
    assert all(one is two for one, two in zip(pads, panels_told_apart(pads), strict=True))
