"""A mapping that cannot be changed and goes from one process to another."""

from collections.abc import Iterator, Mapping
from typing import TypeVar

Name = TypeVar("Name")
Held = TypeVar("Held", covariant=True)


class FrozenMap(Mapping[Name, Held]):
    """The items of a mapping as they were when it was made. Equal to any mapping with the same items."""

    __slots__ = ("_items",)

    def __init__(self, items: Mapping[Name, Held]) -> None:
        self._items = dict(items)

    def __getitem__(self, name: Name) -> Held:
        return self._items[name]

    def __iter__(self) -> Iterator[Name]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __repr__(self) -> str:
        return f"FrozenMap({self._items!r})"
