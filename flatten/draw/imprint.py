"""What every paper says of its job besides the pattern: the job's name, the sheet's revision mark, the shop's unit."""

from dataclasses import dataclass

from meshes.base.units import MM_PER_INCH, Unit, in_shop_unit
from meshes.sheet.whole import Sheet

_INCH_MM = float(MM_PER_INCH)


@dataclass(frozen=True)
class PrintedMeasure:
    """Something of known length to hold a tape against: its length, words, and the ticks along it. Every `labelled`th
    tick is the longest and every `middling`th a middling one."""

    length_mm: float
    words: str
    tick_mm: float
    middling: int
    labelled: int


@dataclass(frozen=True)
class Imprint:
    """Name of the job and revision mark of its sheet, empty where there is none, and the unit its lengths are told
    in."""

    job: str = ""
    revision: str = ""
    unit: Unit = "mm"

    @property
    def line(self) -> str:
        """Job and revision mark as one line of words."""
        revision = f"revision {self.revision}" if self.revision else ""
        return ", ".join(text for text in (self.job, revision) if text)

    def words(self, text: str) -> str:
        """A text with its lengths in the shop's unit."""
        return in_shop_unit(text, unit=self.unit)

    @property
    def square(self) -> PrintedMeasure:
        """The checking square's side: 50 mm, in an inch shop 2 in."""
        if self.unit == "in":
            return PrintedMeasure(2.0 * _INCH_MM, "2 x 2 in (50.8 x 50.8 mm)", _INCH_MM, 1, 1)
        return PrintedMeasure(50.0, "50 x 50 mm", 10.0, 1, 5)

    @property
    def ruler(self) -> PrintedMeasure:
        """The rulers in the margins: 100 mm, in an inch shop 4 in with eighths."""
        if self.unit == "in":
            return PrintedMeasure(4.0 * _INCH_MM, "4 in (101.6 mm)", _INCH_MM / 8.0, 4, 8)
        return PrintedMeasure(100.0, "100 mm", 5.0, 2, 10)

    @property
    def bars(self) -> tuple[PrintedMeasure, ...]:
        """Scale bars for pieces, the longest first."""
        if self.unit == "in":
            sizes = ((4, "4 in (101.6 mm)"), (2, "2 in (50.8 mm)"), (1, "1 in (25.4 mm)"))
            return tuple(PrintedMeasure(n * _INCH_MM, words, _INCH_MM / 4.0, 2, 4) for n, words in sizes)
        return tuple(PrintedMeasure(n, f"{n:g} mm", 10.0, 1, 5) for n in (100.0, 50.0, 20.0))


NO_IMPRINT = Imprint()


def imprint_of(sheet: Sheet) -> Imprint:
    """What papers of a job say of its sheet."""
    return Imprint(sheet.name, sheet.revision, sheet.unit)
