"""What was computed so that a pad fits its neighbours in the seat, beside the pad, which says what was measured."""

from dataclasses import dataclass

from meshes.records.built_up import BuiltUp


@dataclass(frozen=True)
class Alignment:
    """nudges: what is added to the places of a pad's valleys so that they meet those of the pad they follow, mm to the
    right, one for each valley or none; built_up: on its support, so that it goes on where its neighbour ends."""

    nudges: tuple[float, ...] = ()
    built_up: BuiltUp | None = None


UNALIGNED = Alignment()
