"""The cut list: what to cut and what to buy, as a table any spreadsheet reads (RFC 4180: commas, CRLF; UTF-8).

One row per piece, padding layer, welted seam and leather figure; the column `kind` tells which. area_m2 is for the
whole count of the row.
"""

import csv
import io
from collections.abc import Iterator

from flatten.app.course import Job
from flatten.app.report import cut_area
from meshes.files import number

COLUMNS = (
    "kind",
    "name",
    "pad",
    "count",
    "mirrored",
    "width_mm",
    "height_mm",
    "thickness_mm",
    "area_m2",
    "length_mm",
    "material",
    "note",
)
# Share of a hide that ends up in pieces: many small ones to large seamless ones (keleenleathers.com).
YIELDS = (0.70, 0.50)
# A strip of 1 1/2 in for welt cord of 5/32 in (upholsteryresource, a trade page).
WELT_STRIP_MM = 38.1
SQUARE_FOOT_M2 = 0.3048**2

Row = dict[str, str]


def cutlist_csv(job: Job) -> bytes:
    """The cut list as UTF-8 text. No cell can be taken for a formula by a spreadsheet."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\r\n")
    table.writeheader()
    for row in rows(job):
        table.writerow({column: harmless(cell) for column, cell in row.items()})
    return text.getvalue().encode()


def rows(job: Job) -> Iterator[Row]:
    """All rows of the list, by column name; columns that say nothing are left out."""
    yield from _pieces(job)
    yield from _padding(job)
    yield from _welt(job)
    yield from _leather(job)


def harmless(cell: str) -> str:
    """The cell with a leading apostrophe where a spreadsheet would take it for a formula."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


def gross_area(net: float, share: float) -> float:
    """Hide to buy for a net area of pieces, in the same unit, when `share` of the hide ends up in pieces.

    Raises ValueError for a share that is not above 0 and at most 1.
    """
    if not 0.0 < share <= 1.0:
        raise ValueError(f"the share of a hide that is used lies between 0 and 1, found {share}")
    return net / share


def welt_mm(job: Job) -> float:
    """Length of all welt in the sewn seams, mm."""
    return sum(max(seam.length_a_mm, seam.length_b_mm) for seam in job.seams if seam.welt)


def net_area_mm2(job: Job) -> float:
    """Area of all pieces up to their cut lines, each as often as it is cut, mm2."""
    return sum((piece.cut_count + piece.mirrored_count) * cut_area(piece) for piece in job.pieces)


def welt_area_mm2(job: Job) -> float:
    """Area of the strips that cover the welt cord, mm2."""
    return welt_mm(job) * WELT_STRIP_MM


def _pieces(job: Job) -> Iterator[Row]:
    for piece in job.pieces:
        x0, y0, x1, y1 = piece.box()
        count = piece.cut_count + piece.mirrored_count
        yield {
            "kind": "piece",
            "name": piece.name,
            "pad": piece.pad,
            "count": str(count),
            "mirrored": str(piece.mirrored_count),
            "width_mm": number(x1 - x0, 1),
            "height_mm": number(y1 - y0, 1),
            "thickness_mm": number(job.leather.thickness_mm, 2),
            "area_m2": number(count * cut_area(piece) / 1e6, 4),
            "material": job.leather.name,
            "note": piece.count_text,
        }


def _padding(job: Job) -> Iterator[Row]:
    for pad in job.pads:
        for k, (material, where, thickness, area) in enumerate(pad.facts.layers):
            yield {
                "kind": "padding",
                "name": f"layer {k + 1}, {where}",
                "pad": pad.pad.name,
                "count": "1",
                "mirrored": "0",
                "thickness_mm": number(thickness, 1),
                "area_m2": number(area / 1e6, 4),
                "material": material,
                "note": "area covered on the padded surface; layers count from the support",
            }


def _welt(job: Job) -> Iterator[Row]:
    pads = {panel.name: panel.pad for panel in job.panels.values()}
    for seam in job.seams:
        if seam.welt:
            yield {
                "kind": "welt",
                "name": seam.name,
                "pad": pads[seam.a],
                "count": "1",
                "mirrored": "0",
                "length_mm": number(max(seam.length_a_mm, seam.length_b_mm), 1),
                "material": job.leather.name,
                "note": "as sewn; add for ends and joins",
            }


def _leather(job: Job) -> Iterator[Row]:
    net, strips = net_area_mm2(job), welt_area_mm2(job)
    yield _area_row(job, "pieces, net", net, "up to the cut lines")
    if strips:
        note = f"{number(welt_mm(job) / 1000.0, 2)} m of strip {number(WELT_STRIP_MM, 1)} mm wide, for cord of 4 mm"
        yield _area_row(job, "welt strips, net", strips, note)
    for share in YIELDS:
        what = "many small pieces" if share == max(YIELDS) else "large seamless pieces"
        buy = gross_area(net + strips, share)
        yield _area_row(job, f"to buy at {100 * share:.0f} % yield", buy, f"pieces and welt strips; usual for {what}")


def _area_row(job: Job, name: str, area_mm2: float, note: str) -> Row:
    square_feet = area_mm2 / 1e6 / SQUARE_FOOT_M2
    return {
        "kind": "leather",
        "name": name,
        "area_m2": number(area_mm2 / 1e6, 4),
        "material": job.leather.name,
        "note": f"{number(square_feet, 1)} sq ft; {note}",
    }
