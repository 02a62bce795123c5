"""The job sheet as a PDF to print: a box to tick at every step, its figures, lines to write on, cautions framed."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from flatten.draw.fonts import words_width
from flatten.paper.overview import wrapped
from flatten.paper.pages import MARGIN_MM, PAGE_MM
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen, new_canvas
from flatten.work.steps import HOW_TO_USE, JobSheet, StepFigure, WorkStep, told_after
from meshes.base.units import in_shop_unit

# Heights of capitals, and from line to line.
JOB_TITLE_MM, STAGE_MM, STEP_LETTER_MM, NOTE_LETTER_MM = 4.2, 3.3, 2.5, 2.1
LINE_APART = 1.95
# Columns from the left margin: the box, the number, the words; what is found is written in the last.
NUMBER_AT_MM, WORDS_AT_MM, FOUND_ROOM_MM = 6.0, 13.0, 32.0
AMOUNT_SHARE = 0.45
TICK_BOX_MM = 4.0
STEP_ROOM_MM = 2.6
# A last page of which less is written on is filled up from the others, whose foot is raised by so much at a time.
LAST_PAGE_LEAST, SPARE_STEP_MM = 0.5, 5.0
# A figure in the other unit in brackets is one word; what binds it is no blank to a text that is parted at blanks.
_SHORT_BRACKET = re.compile(r"\([^() ]+ [^() ]+\)")
_BOUND = "\x02"
_FRAME_INK, _SOFT_INK = 0.65, 0.35


class _JobPages:
    """Pages as they are written from top to bottom."""

    def __init__(self, pen: PdfPen, size: tuple[float, float], head: str, of: int) -> None:
        self.pen, self.size, self.head, self.of = pen, size, head, of
        self.left, self.right = MARGIN_MM + 4.0, size[0] - MARGIN_MM
        self.low, self.y, self.page = MARGIN_MM + 8.0, 0.0, 0

    @property
    def top(self) -> float:
        """Where words begin."""
        return self.size[1] - MARGIN_MM - 4.0

    def begin(self) -> None:
        """A new page, with the job's name and the page's number at its foot."""
        if self.page:
            self.pen.canvas.showPage()
        self.page += 1
        self.pen.canvas.setPageSize((self.size[0] * POINTS_PER_MM, self.size[1] * POINTS_PER_MM))
        self.pen.write((self.left, MARGIN_MM), self.head, height_mm=NOTE_LETTER_MM, side=0.0, ink=_SOFT_INK)
        self.pen.write(
            (self.right, MARGIN_MM), f"page {self.page} of {self.of}", height_mm=NOTE_LETTER_MM, side=1.0, ink=_SOFT_INK
        )
        self.y = self.top

    def room_for(self, height_mm: float) -> None:
        """Begin a new page where so much does not fit any more."""
        if self.y - height_mm < self.low:
            self.begin()

    def lines(self, words: str, height_mm: float, at_mm: float, *, ink: float = 0.0, right_mm: float = 0.0) -> None:
        """Words in as many lines as they take, from a column on."""
        for line in wrapped(words, height_mm, self.right - right_mm - self.left - at_mm):
            self.y -= height_mm * LINE_APART
            self.pen.write((self.left + at_mm, self.y + 0.5 * height_mm), line, height_mm=height_mm, side=0.0, ink=ink)


def job_pdf(sheet: JobSheet, *, page: str) -> bytes:
    """The sheet on pages of "a4", "letter" or "a3", as the bytes of a PDF file. The same sheet gives the same bytes."""
    size = PAGE_MM["a4" if page == "a3" else page]
    spare = _spare_mm(sheet, size)
    return _written(sheet, size, of=_written(sheet, size, of=0, spare_mm=spare).pages, spare_mm=spare).file


@dataclass(frozen=True)
class _Written:
    """A file, how many pages it has, and how much of the last one is written on, mm."""

    file: bytes
    pages: int
    last_mm: float


def _spare_mm(sheet: JobSheet, size: tuple[float, float]) -> float:
    """What is left free at the foot of every page, so that the last is not nearly empty; as many pages as without."""
    plain = _written(sheet, size, of=0)
    high = size[1] - 2.0 * MARGIN_MM
    if plain.pages < 2 or plain.last_mm > LAST_PAGE_LEAST * high:
        return 0.0
    spare, best, last = 0.0, 0.0, plain.last_mm
    while spare < 0.5 * high:
        spare += SPARE_STEP_MM
        tried = _written(sheet, size, of=0, spare_mm=spare)
        if tried.pages > plain.pages:
            break
        if tried.last_mm > last:
            best, last = spare, tried.last_mm
    return best


def _written(sheet: JobSheet, size: tuple[float, float], *, of: int, spare_mm: float = 0.0) -> _Written:
    """The sheet as a file; of: how many pages it is going to have; spare_mm: left free at the foot of each."""
    title = ", ".join(text for text in ("Job sheet", sheet.name) if text)
    canvas, stream = new_canvas(title)
    canvas.setSubject("Steps, figures and cautions in working order")
    head = ", ".join(text for text in (title, f"revision {sheet.revision}" if sheet.revision else "") if text)
    out = _JobPages(PdfPen(canvas), size, head, of)
    out.low += spare_mm
    out.begin()
    out.lines(f"Job sheet: {sheet.name}", JOB_TITLE_MM, 0.0)
    out.y -= 1.0
    out.lines(HOW_TO_USE, NOTE_LETTER_MM, 0.0, ink=_SOFT_INK)
    for stage, steps in sheet.stages:
        _heading(out, stage, _step_height(out, sheet, steps[0]))
        for step in steps:
            _step(out, sheet, step)
    canvas.showPage()
    canvas.save()
    return _Written(stream.getvalue(), out.page, out.top - out.y)


def _heading(out: _JobPages, words: str, below_mm: float) -> None:
    high = STAGE_MM * LINE_APART + 6.0
    out.room_for(high + min(below_mm, 60.0))
    out.y -= 3.0
    out.lines(words, STAGE_MM, 0.0)
    out.y -= 1.2
    out.pen.rule([(out.left, out.y), (out.right, out.y)], width_mm=0.4)
    out.y -= 1.0


def _told(sheet: JobSheet, step: WorkStep) -> list[tuple[str, float, float]]:
    """Everything of a step but its figures and cautions: words, height, right margin."""
    own = [in_shop_unit(text, unit=sheet.unit) for text in (step.text, *step.details)]
    return [(text, STEP_LETTER_MM if k == 0 else NOTE_LETTER_MM, 0.0) for k, text in enumerate(own)]


def _step_height(out: _JobPages, sheet: JobSheet, step: WorkStep) -> float:
    wide = out.right - out.left - WORDS_AT_MM
    high = sum(len(wrapped(words, size, wide)) * size * LINE_APART for words, size, _ in _told(sheet, step))
    high += sum(_figure_height(out, sheet, one) for one in step.figures)
    high += sum(
        len(wrapped(words, NOTE_LETTER_MM, wide - 4.0)) * NOTE_LETTER_MM * LINE_APART + 3.0
        for words in sheet.cautions_at(step)
    )
    return high + STEP_ROOM_MM


def _step(out: _JobPages, sheet: JobSheet, step: WorkStep) -> None:
    # A step stays on one page unless it is longer than one.
    out.room_for(min(_step_height(out, sheet, step), out.top - out.low))
    top = out.y - 1.2
    box = [
        (out.left, top - TICK_BOX_MM),
        (out.left + TICK_BOX_MM, top - TICK_BOX_MM),
        (out.left + TICK_BOX_MM, top),
        (out.left, top),
    ]
    out.pen.rule(box, width_mm=0.3, closed=True)
    number_at = (out.left + NUMBER_AT_MM, top - 0.5 * TICK_BOX_MM)
    out.pen.write(number_at, str(step.number), height_mm=STEP_LETTER_MM, side=0.0)
    for k, (words, size, _) in enumerate(_told(sheet, step)):
        out.room_for(size * LINE_APART)
        out.lines(words, size, WORDS_AT_MM, ink=0.0 if k == 0 else 0.2)
    for one in step.figures:
        _figure(out, sheet, one)
    for words in sheet.cautions_at(step):
        _caution(out, words)
    out.y -= STEP_ROOM_MM


def _columns(out: _JobPages, sheet: JobSheet, one: StepFigure) -> tuple[Sequence[str], Sequence[str]]:
    wide = out.right - out.left - WORDS_AT_MM - FOUND_ROOM_MM
    note = in_shop_unit(told_after(one), unit=sheet.unit)
    words = _unbroken(in_shop_unit(one.what, unit=sheet.unit), AMOUNT_SHARE * wide - 3.0)
    room = (1.0 - AMOUNT_SHARE) * wide + (0.0 if one.found else FOUND_ROOM_MM) - 2.0
    return words, _unbroken(one.amount_words(sheet.unit) + note, room)


def _unbroken(words: str, room_mm: float) -> list[str]:
    """Lines in which a short bracket, such as "(47.6 mm)", keeps together."""
    bound = _SHORT_BRACKET.sub(lambda one: one[0].replace(" ", _BOUND), words)
    return [line.replace(_BOUND, " ") for line in wrapped(bound, NOTE_LETTER_MM, room_mm)]


def _figure_height(out: _JobPages, sheet: JobSheet, one: StepFigure) -> float:
    return max(len(column) for column in _columns(out, sheet, one)) * NOTE_LETTER_MM * LINE_APART + 0.5


def _figure(out: _JobPages, sheet: JobSheet, one: StepFigure) -> None:
    out.room_for(_figure_height(out, sheet, one))
    wide = out.right - out.left - WORDS_AT_MM - FOUND_ROOM_MM
    at, top = out.left + WORDS_AT_MM, out.y
    for k, column in enumerate(_columns(out, sheet, one)):
        x = at + (AMOUNT_SHARE * wide if k else 0.0)
        for n, line in enumerate(column, start=1):
            y = top - n * NOTE_LETTER_MM * LINE_APART + 0.5 * NOTE_LETTER_MM
            out.pen.write((x, y), line, height_mm=NOTE_LETTER_MM, side=0.0)
    low = top - NOTE_LETTER_MM * LINE_APART
    if one.found:
        words = "found"
        start = out.right - FOUND_ROOM_MM + 2.0
        out.pen.write((start, low + 0.5 * NOTE_LETTER_MM), words, height_mm=NOTE_LETTER_MM, side=0.0, ink=_SOFT_INK)
        out.pen.rule(
            [(start + words_width(words, NOTE_LETTER_MM) + 1.5, low - 0.4), (out.right, low - 0.4)], width_mm=0.2
        )
    out.y = top - _figure_height(out, sheet, one)


def _caution(out: _JobPages, words: str) -> None:
    wide = out.right - out.left - WORDS_AT_MM
    lines = wrapped(words, NOTE_LETTER_MM, wide - 4.0)
    high = len(lines) * NOTE_LETTER_MM * LINE_APART + 2.0
    out.room_for(high + 1.0)
    out.y -= 0.6
    x0, x1, top = out.left + WORDS_AT_MM, out.right, out.y
    out.pen.rule([(x0, top - high), (x1, top - high), (x1, top), (x0, top)], width_mm=0.2, ink=_FRAME_INK, closed=True)
    out.pen.rule([(x0 + 0.6, top - high), (x0 + 0.6, top)], width_mm=1.2, ink=0.3)
    out.y -= 0.4
    for line in lines:
        out.y -= NOTE_LETTER_MM * LINE_APART
        out.pen.write((x0 + 3.0, out.y + 0.5 * NOTE_LETTER_MM), line, height_mm=NOTE_LETTER_MM, side=0.0)
    out.y = top - high - 0.4
