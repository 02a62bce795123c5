"""How a search ended, as a value: nothing has to be read out of words."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Ending(StrEnum):
    """Why a search stopped."""

    CONVERGED = "converged"
    FLAT = "flat already"
    ROUNDING = "rounding allows no further step"
    NO_DESCENT = "no step lowers the energy"
    STALLED = "steps became too short"
    STEPS = "not enough steps"
    SINGULAR = "the linear system could not be solved"
    UNCONFIRMED = "the least could not be confirmed"


@dataclass(frozen=True)
class Status:
    """How a search ended and how far from the best it may have stayed.

    gap: by which share the result may exceed the least one, a share of what the search says it makes least; infinite
    when nothing is known. fallbacks: linear systems that full pivoting solved. detail: more about the ending.
    """

    ending: Ending
    gap: float
    fallbacks: int = 0
    detail: str = ""

    @property
    def converged(self) -> bool:
        """Whether the result is the least one, to the gap that was asked for."""
        return self.ending in (Ending.CONVERGED, Ending.FLAT)

    def __str__(self) -> str:
        words = f"{self.ending}: {self.detail}" if self.detail else str(self.ending)
        return words + (f", {self.fallbacks} of its linear systems by full pivoting" if self.fallbacks else "")


class Trace(Protocol):
    """Called at every step of a search with the number of steps so far and the value of what is made least."""

    def __call__(self, step: int, value: float, /) -> None: ...


def untraced(step: int, value: float) -> None:
    """A trace that nobody asked for."""
