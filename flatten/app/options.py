"""Options that commands share, or that belong together: on the command line each stands for itself.

The texts of fields are what `--help` says of them.
"""

from dataclasses import dataclass
from typing import Annotated

from cyclopts import Parameter

# Exit code with --strict when some piece does not fit.
DOES_NOT_FIT = 3

Quiet = Annotated[bool, Parameter(negative=(), help="Print nothing but problems.")]
JsonOption = Annotated[bool, Parameter(negative=(), help="Print the report as JSON on stdout.")]
SwitchOn = Annotated[bool, Parameter(negative=())]
PlaceOption = Annotated[str, Parameter(allow_leading_hyphen=True)]
CacheOption = Annotated[
    bool,
    Parameter(
        name="--cache",
        negative="--no-cache",
        help="Use what earlier runs found for what has not changed since, and keep what this one finds.",
    ),
]
Strict = Annotated[bool, Parameter(negative=(), help="Exit 3 when some piece does not fit its leather.")]


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Telling:
    """What is printed when the work is done."""

    quiet: Quiet = False
    json: JsonOption = False

    @property
    def no_words(self) -> bool:
        """Whether neither progress nor figures are told in words."""
        return self.quiet or self.json


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Running(Telling):
    """What is printed, and whether what earlier runs found may serve."""

    cache: CacheOption = True


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class DrawingOptions:
    """How patterns and seat are drawn.

    Parameters
    ----------
    page
        Paper of patterns.pdf: a4, letter or a3. Default: what the sheet says.
    pictures
        Whether to draw pictures of the seat.
    flesh_up
        Draw all pieces as seen from the flesh side, for marking out on it.
    both
        Draw mirrored pieces too, beside those that they mirror, instead of leaving the pattern to be turned over.
    """

    page: str | None = None
    pictures: bool = True
    flesh_up: SwitchOn = False
    both: SwitchOn = False


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class MeshOptions:
    """How one mesh is taken, and what its piece is held to.

    Parameters
    ----------
    leather
        Name of a leather card, for budget and verdict.
    budget
        Demand allowed, in percent, instead of the card's.
    repair
        What may be repaired first: merge, orient, drop-loose, largest-part, turn-over. May be given more than once.
    """

    leather: str | None = None
    budget: float | None = None
    repair: tuple[str, ...] = ()


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class MeshLimit:
    """What the piece of one mesh is held to while cuts are looked for.

    Parameters
    ----------
    leather
        For a mesh: name of a leather card.
    budget
        For a mesh: demand allowed, in percent.
    """

    leather: str | None = None
    budget: float | None = None


# Everything as it usually is.
TELL, RUN, DRAW, AS_IT_IS, NO_LIMIT = Telling(), Running(), DrawingOptions(), MeshOptions(), MeshLimit()
