"""What the live engine answers, level by level, as frozen records. Lengths mm, in the coordinates of each pad."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from flatten.job.pipeline import DrawnSeat, Job
from meshes.base.problems import Problem
from meshes.settle.proposal import Comparison
from meshes.settle.section_line import Cut
from meshes.sheet.whole import Sheet


class Level(StrEnum):
    """How far an answer goes. section: cuts only; draft: seat and pieces on coarse triangles, least energy, nothing
    proven; final: what `make` finds, to the last byte."""

    SECTION = "section"
    DRAFT = "draft"
    FINAL = "final"


@dataclass(frozen=True)
class AskedCut:
    """A cut that is wanted beside the usual ones: through the pad of a name, at a place."""

    pad: str
    cut: Cut


@dataclass(frozen=True, eq=False)
class SectionAnswer:
    """ticket: of the change; sheet: as changed; cuts: of every pad on a frame by its name: along and across its middle,
    then those asked for, each as measured and as padded, without proposals; tensions: N/mm, what every cover is pulled
    with in its cuts; problems: why a cut cannot be made, as warnings; seconds: of work."""

    ticket: int
    sheet: Sheet
    cuts: Mapping[str, tuple[Comparison, ...]]
    tensions: Mapping[str, float]
    problems: tuple[Problem, ...]
    seconds: float
    level: Level = Level.SECTION


@dataclass(frozen=True, eq=False)
class DraftAnswer(DrawnSeat):
    """ticket: of the change; sheet: as changed, with the draft's mesh; pads: built on it, without their cuts; flats: of
    least energy, whose demand is above that of the pieces as they will be cut; pieces and seams drawn from them: sides
    of a seam are a little unequal; problems: what is told of pads."""

    ticket: int = 0
    level: Level = Level.DRAFT


@dataclass(frozen=True, eq=False)
class FinalAnswer:
    """ticket: of the change; job: the same as `flatten.job.make.make` finds for the sheet; seconds: of work."""

    ticket: int
    job: Job
    seconds: float
    level: Level = Level.FINAL


@dataclass(frozen=True)
class RefusedAnswer:
    """The sheet, or what should be built from it, is refused. level: which was being worked out; no level after it is
    answered, but for a draft, whose coarse triangles may fail where the seat does not."""

    ticket: int
    problems: tuple[Problem, ...]
    level: Level


@dataclass(frozen=True)
class ProgressAnswer:
    """How far the work for a level has come: what is being done, how much of it, and of how much (0: not known)."""

    ticket: int
    doing: str
    done: int
    of: int
    level: Level


Answer = SectionAnswer | DraftAnswer | FinalAnswer | RefusedAnswer | ProgressAnswer


@dataclass(frozen=True)
class LiveTask:
    """What the working process is asked for. text: of the sheet, and file: where it stands or will; level; cuts beside
    the usual ones; workers: processes that a final answer may be shared out to."""

    ticket: int
    text: str
    file: str
    level: Level
    cuts: tuple[AskedCut, ...] = field(default=())
    workers: int = 2
