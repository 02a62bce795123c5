"""Results kept in memory: the last ones used, up to a bound."""

import threading
from collections import OrderedDict

# Pickles of so many bytes are kept in all: some 80 drafts of a seat with a back; each change leaves one behind.
MEMORY_BYTES = 64 << 20


class MemoryStore:
    """Pickled results by key; the least lately used go first."""

    def __init__(self, most_bytes: int = MEMORY_BYTES) -> None:
        self.most_bytes = most_bytes
        self.bytes = 0
        self._held: OrderedDict[str, bytes] = OrderedDict()
        self._turn = threading.Lock()

    def get(self, key: str) -> bytes | None:
        """What is kept under a key, None when nothing is."""
        with self._turn:
            data = self._held.get(key)
            if data is not None:
                self._held.move_to_end(key)
            return data

    def put(self, key: str, data: bytes) -> None:
        """Keep a result; one that is larger than all room is not."""
        if len(data) > self.most_bytes:
            return
        with self._turn:
            self.bytes += len(data) - len(self._held.pop(key, b""))
            self._held[key] = data
            while self.bytes > self.most_bytes:
                _, gone = self._held.popitem(last=False)
                self.bytes -= len(gone)
