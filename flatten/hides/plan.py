"""A small plan of one hide: outline, flaws, zones, every piece with its number and arrow, and a list to cut by.

The list gives the two ends of each piece's centre line as distances along the backbone, from the tail, and off it,
so that a piece can be laid down on the hide with a tape. Seen from the grain side, or from the flesh side, mirrored.
"""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box

from flatten.draw.drawing import Drawing
from flatten.draw.word_places import ABOVE, BELOW, WordPlaces, words_size
from flatten.hides.figures import hide_uses, line_ends
from flatten.hides.laid_cut import LaidCut, LaidHides
from flatten.pieces.piece import FLESH_UP, GRAIN_UP
from meshes.base.arrays import FloatArray
from meshes.base.units import MM_PER_INCH, Unit, inches
from meshes.hides.records import NEVER_COVERED, Hide

WIDE_PX, MARGIN_PX, HEAD_PX, ROW_PX, SMALL_PX = 1000.0, 24.0, 74.0, 17.0, 11.0
INK, SOFT, PIECE, PIECE_EDGE, HARD, MILD, LEATHER = (
    "#1a1a1a",
    "#8a8378",
    "#e9dcc4",
    "#5b4a2f",
    "#c94f3d",
    "#e0a34a",
    "#faf6ee",
)
COLUMNS = (
    (0.0, "no."),
    (38.0, "piece"),
    (520.0, "first end: along, off"),
    (690.0, "second end: along, off"),
    (868.0, "arrow"),
)

# A plan is no higher than this, its list left out.
MOST_HIGH_PX = 1200.0
# Bold words are so much wider, with a little room beside them.
BOLD_WIDER = 1.2
# Words further than this from their flaw have a line to it.
LEADER_PX = 12.0
# Half the length of an arrow, and the room beside it.
HALF_ARROW_PX, ARROW_ROOM_PX = 12.0, 10.0
ARROW_WORDS = {0.0: "to the neck", 180.0: "to the tail"}
ROLL_WORDS = {0.0: "along the roll", 90.0: "across the roll"}


class HidePlanDrawing:
    """Draws one hide. flesh_up: mirrored, as it lies flesh side up; unit: the shop's."""

    def __init__(self, laid: LaidHides, number: int, *, flesh_up: bool, unit: Unit) -> None:
        self.laid, self.number, self.flesh_up = laid, number, flesh_up
        self.hide: Hide = laid.plan.hides[number]
        self.cuts = laid.on(number)
        places = self.hide.along_and_off(self.hide.outline)
        self.low, self.high = places.min(axis=0), places.max(axis=0)
        long, wide = (float(size) for size in self.high - self.low)
        # A short length of a roll is wider than long.
        self.scale = min((WIDE_PX - 2.0 * MARGIN_PX) / long, MOST_HIGH_PX / wide)
        self.map_px = float(self.high[1] - self.low[1]) * self.scale
        self._places = WordPlaces()
        self._taken = shapely.union_all([Polygon(self.px(cut.points)) for cut in self.cuts])
        height = HEAD_PX + self.map_px + ROW_PX * (len(self.cuts) + 3) + 2.0 * MARGIN_PX
        self.drawing = Drawing((WIDE_PX, height), f"plan of {self.hide.name}", unit=unit)

    def px(self, points: FloatArray) -> FloatArray:
        """Places along and off the backbone in pixels: tail left, neck right."""
        x = MARGIN_PX + (points[:, 0] - self.low[0]) * self.scale
        off = points[:, 1] - self.low[1] if self.flesh_up else self.high[1] - points[:, 1]
        return np.column_stack([x, HEAD_PX + off * self.scale])

    def drawn(self) -> Drawing:
        """The whole plan."""
        self._head()
        self._map()
        self._list()
        return self.drawing

    def pages(self, rows: int) -> list[Drawing]:
        """The plan in parts: the hide, then its list, so many rows in each."""
        self.drawing = self._part(HEAD_PX + self.map_px + MARGIN_PX)
        self._head()
        self._map()
        found = [self.drawing]
        for first in range(0, len(self.cuts), rows):
            self.drawing = self._part(ROW_PX * (rows + 3) + MARGIN_PX)
            self._rows(range(first, min(first + rows, len(self.cuts))), MARGIN_PX)
            found.append(self.drawing)
        return found

    def _part(self, height: float) -> Drawing:
        return Drawing((WIDE_PX, height), self.drawing.title, unit=self.drawing.unit)

    def _map(self) -> None:
        """The hide and all that lies on it: words keep off flaws, ends of centre lines and each other."""
        self._places = WordPlaces()
        for flaw in self.hide.flaws:
            self._places.take(Polygon(self.px(self.hide.along_and_off(flaw.points))).buffer(1.0))
        self._hide()
        for k, cut in enumerate(self.cuts, start=1):
            self._cut(k, cut)
        self._flaws()

    def _head(self) -> None:
        use = next(one for one in hide_uses(self.laid) if one.name == self.hide.name)
        draw = self.drawing
        side = FLESH_UP if self.flesh_up else GRAIN_UP
        draw.words(f"{self.hide.name}: {side}", (MARGIN_PX, 26.0), size=17.0, colour=INK, bold=True)
        # In square feet the figure is read off what stands here, which rounds it once more: so one place more.
        area = f"{use.area_mm2 / 1e6:.{3 if draw.unit == 'in' else 2}f} m²"
        words = f"{area}, {len(self.cuts)} pieces take {100 * use.share:.0f} % of it; "
        if use.roll_mm is None:
            words += f"free beyond the last piece: {use.free_mm:.0f} mm"
        else:
            words += f"{use.roll_mm / 1000.0:.2f} m long"
        draw.words(words, (MARGIN_PX, 45.0), size=12.0, colour=INK)
        cutting = self.laid.plan.cutting
        words = f"{cutting.gap_mm:g} mm between pieces, {cutting.rim_mm:g} mm from the rim, "
        words += f"{cutting.chalk_mm:g} mm off chalk rings"
        words = f"{cutting.gap_mm:g} mm between pieces; between the selvedges" if self.hide.roll else words
        if self.laid.seconds is not None:
            words += f"; sought for {self.laid.seconds:g} s: another run may give another plan"
        draw.words(words, (MARGIN_PX, 61.0), size=12.0, colour=INK)

    def _hide(self) -> None:
        draw, hide = self.drawing, self.hide
        draw.area(self.px(hide.along_and_off(hide.outline)), LEATHER, edge=INK, width=1.4)
        for name, parts in hide.zones.items():
            for part in parts:
                places = self.px(hide.along_and_off(part))
                draw.line(closed_line(places), SOFT, 0.6, dash=(3.0, 4.0))
                self._zone_name(name, Polygon(places))
        spine = self.px(np.array([[self.low[0], 0.0], [self.high[0], 0.0]]))
        draw.line(spine, SOFT, 0.8, dash=(12.0, 4.0))

    def _zone_name(self, name: str, zone: Polygon) -> None:
        """A zone's name on what pieces leave of it, nowhere where they leave too little."""
        spine = LineString(self.px(np.array([[self.low[0], 0.0], [self.high[0], 0.0]])))
        left = zone.difference(shapely.union_all([self._taken, spine.buffer(SMALL_PX)]))
        size = words_size(name, SMALL_PX)
        for room in sorted(getattr(left, "geoms", [left]), key=lambda one: -one.area):
            if room.buffer(-0.5 * SMALL_PX).is_empty:
                return
            near = max(getattr(room, "geoms", [room]), key=lambda one: one.area).representative_point().coords[0]
            at = self._places.within(room, size, near)
            if at is not None:
                self._words(name, at, SOFT)
                return

    def _words(self, text: str, middle: FloatArray, colour: str, *, bold: bool = False) -> None:
        """Words round their middle."""
        line = float(middle[1]) + 0.5 * (ABOVE - BELOW) * SMALL_PX
        self.drawing.words(text, (float(middle[0]), line), size=SMALL_PX, colour=colour, anchor="middle", bold=bold)

    def _flaws(self) -> None:
        draw, hide = self.drawing, self.hide
        rim = Polygon(self.px(hide.along_and_off(hide.outline))).exterior
        edges = shapely.union_all([rim, *(Polygon(self.px(cut.points)).exterior for cut in self.cuts)])
        for flaw in hide.flaws:
            places = self.px(hide.along_and_off(flaw.points))
            draw.area(places, HARD if flaw.grade in NEVER_COVERED else MILD, edge=INK, width=0.8)
        # Where a piece's edge runs over a flaw it is seen.
        for cut in self.cuts:
            draw.line(closed_line(self.px(cut.points)), PIECE_EDGE, 1.0)
        for flaw in hide.flaws:
            places = self.px(hide.along_and_off(flaw.points))
            size = words_size(flaw.words, SMALL_PX)
            at = self._places.beside(Polygon(places), size, edges)
            self._words(flaw.words, at, INK)
            ends = shapely.shortest_line(
                Polygon(places), box(*(at - 0.5 * np.array(size)), *(at + 0.5 * np.array(size)))
            )
            if ends.length > LEADER_PX:
                draw.line(shapely.get_coordinates(ends), INK, 0.6)

    def _cut(self, number: int, cut: LaidCut) -> None:
        draw = self.drawing
        places = self.px(cut.points)
        draw.area(places, PIECE, edge=PIECE_EDGE, width=1.0)
        for end in self.px(line_ends(cut)):
            square = end + np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 2.0], [-2.0, 2.0]])
            draw.area(square, INK)
            self._places.take(Polygon(square))
        piece = Polygon(places)
        near = piece.representative_point().coords[0]
        way = self._way(cut)
        arrow = np.abs(way) * 2.0 * HALF_ARROW_PX + ARROW_ROOM_PX
        for words, with_arrow in ((f"{number} {cut.cut.name}", True), (str(number), True), (str(number), False)):
            # On a strip there is room for its number alone; the list tells how its arrow lies.
            wide, high = words_size(words, SMALL_PX, wider=BOLD_WIDER)
            size = (max(wide, float(arrow[0])), high + float(arrow[1])) if with_arrow else (wide, high)
            at = self._places.within(piece, size, near)
            if at is not None:
                break
        else:
            at, with_arrow, size = np.array(near), False, (0.0, high)
        top = float(at[1]) - 0.5 * size[1]
        self._words(words, np.array([at[0], top + 0.5 * high]), INK, bold=True)
        if with_arrow:
            self._arrow(np.array([at[0], top + high + 0.5 * float(arrow[1])]), way)

    def _way(self, cut: LaidCut) -> FloatArray:
        """Where a piece's arrow points on the drawing, (2,)."""
        heading = np.radians(cut.turn_deg)
        return np.array([np.cos(heading), np.sin(heading) * (1.0 if self.flesh_up else -1.0)])

    def _arrow(self, middle: FloatArray, way: FloatArray) -> None:
        """A short arrow as the piece's, round a spot."""
        tail, tip = middle - HALF_ARROW_PX * way, middle + HALF_ARROW_PX * way
        across = np.array([-way[1], way[0]])
        self.drawing.line(np.array([tail, tip]), INK, 1.0)
        self.drawing.area(np.array([tip, tip - 5.0 * way + 2.5 * across, tip - 5.0 * way - 2.5 * across]), INK)

    def _list(self) -> None:
        self._rows(range(len(self.cuts)), HEAD_PX + self.map_px + MARGIN_PX + ROW_PX)

    def _rows(self, numbers: range, y: float) -> None:
        """Rows of the list under their heading, whose words stand on `y`."""
        draw = self.drawing
        for x, words in COLUMNS:
            draw.words(words, (MARGIN_PX + x, y), size=12.0, colour=INK, bold=True)
        for k in numbers:
            cut = self.cuts[k]
            y += ROW_PX
            told = [str(k + 1), f"{cut.cut.label}{' (pinned)' if cut.pinned else ''}"]
            told += [self._end(end) for end in line_ends(cut)]
            told.append(self._arrow_words(cut))
            for (x, _), words in zip(COLUMNS, told, strict=True):
                draw.words(words, (MARGIN_PX + x, y), size=12.0, colour=INK)
        y += 1.5 * ROW_PX
        unit = draw.unit
        words = (
            f"Along: from the tail end of the backbone line, {unit}. Off it: left with L, right with R, looking to the "
            "neck. Arrow: degrees off the way to the neck."
        )
        if self.hide.roll:
            side = "left" if self.flesh_up else "right"
            words = f"Along: from the end of the roll, {unit}. Off: from the edge of what is usable, at the {side}."
        draw.words(words, (MARGIN_PX, y), size=SMALL_PX, colour=SOFT)

    def _arrow_words(self, cut: LaidCut) -> str:
        """Where a piece's arrow points: to an end of the backbone, or so far to its left or right, as seen here."""
        ways = ROLL_WORDS if self.hide.roll else ARROW_WORDS
        turn = cut.turn_deg % 360.0
        left = (turn < 180.0) != self.flesh_up
        return ways.get(round(turn, 6), f"{min(turn, 360.0 - turn):.0f}° {'L' if left else 'R'}")

    def _end(self, end: FloatArray) -> str:
        unit = self.drawing.unit
        if self.hide.roll:
            return f"{on_tape(end[0], unit)}, {on_tape(end[1], unit)}"
        left = (end[1] >= 0.0) != self.flesh_up
        return f"{on_tape(end[0], unit)}, {on_tape(abs(end[1]), unit)} {'L' if left else 'R'}"


def on_tape(mm: float, unit: Unit) -> str:
    """A place as the shop's tape reads it, without its unit: to the mm, or to a sixteenth of an inch."""
    if unit == "mm":
        return f"{mm:.0f}"
    return ("-" if mm <= -0.5 * float(MM_PER_INCH) / 16.0 else "") + inches(abs(mm)).removesuffix(" in")


def closed_line(points: FloatArray) -> FloatArray:
    """The points with the first once more at the end."""
    return np.concatenate([points, points[:1]])


def hide_plan_drawing(laid: LaidHides, number: int, *, flesh_up: bool = False, unit: Unit = "mm") -> Drawing:
    """The small plan of one hide."""
    return HidePlanDrawing(laid, number, flesh_up=flesh_up, unit=unit).drawn()


def hide_plan_pages(
    laid: LaidHides, number: int, *, flesh_up: bool = False, unit: Unit = "mm", rows: int
) -> list[Drawing]:
    """The small plan of one hide in parts for pages: the hide, then its list, so many rows in each."""
    return HidePlanDrawing(laid, number, flesh_up=flesh_up, unit=unit).pages(rows)
