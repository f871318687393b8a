"""Things that are dear to make and soon wanted again: kept within a limit of bytes, made once for all threads."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Condition
from typing import Any

from numpy.typing import NDArray


class Keeper:
    """Arrays by key, up to `limit` bytes, the least recently wanted dropped first.

    What is being made or used counts beside the limit.
    """

    def __init__(self, limit: int) -> None:
        self._limit, self._held = limit, 0
        self._kept: OrderedDict[Hashable, NDArray[Any]] = OrderedDict()
        self._making: set[Hashable] = set()
        self._change = Condition()

    def __reduce__(self) -> tuple[type, tuple[int]]:
        return type(self), (self._limit,)  # a copy starts empty

    def get(self, key: Hashable, make: Callable[[], NDArray[Any]]) -> NDArray[Any]:
        """The array of a key; `make` is called in one thread while others wait for it."""
        with self._change:
            self._change.wait_for(lambda: key not in self._making)
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            self._making.add(key)
            while self._kept and self._held > self._limit:
                self._drop()
        made: NDArray[Any] | None = None
        try:
            made = make()
            return made
        finally:
            with self._change:
                self._making.discard(key)
                if made is not None:
                    self._kept[key] = made
                    self._held += made.nbytes
                    while len(self._kept) > 1 and self._held > self._limit:
                        self._drop()
                self._change.notify_all()

    def _drop(self) -> None:
        _, old = self._kept.popitem(last=False)
        self._held -= old.nbytes
