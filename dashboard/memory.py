"""Answers kept by what they depend on, so that a change asks again only for what it touches."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

T = TypeVar("T")


class Memory:
    """Answers by setup, the latest kept."""

    def __init__(self, most: int) -> None:
        self._kept: OrderedDict[Any, Any] = OrderedDict()
        self._making: dict[Any, threading.Event] = {}
        self._most = most
        self._lock = threading.Lock()

    def has(self, key: Any) -> bool:
        """Whether an answer is kept."""
        with self._lock:
            return key in self._kept

    def each(self, keys: Sequence[Any], make: Callable[[list[int]], Sequence[T]]) -> list[T]:
        """One answer a key; those not known are made in one go, asked for by their places.

        What another thread is making already is waited for.
        """
        while True:
            with self._lock:
                known = {key: self._kept[key] for key in keys if key in self._kept}
                missing = {key: at for at, key in enumerate(keys) if key not in known}
                awaited = [self._making[key] for key in missing if key in self._making]
                if not missing:
                    return [known[key] for key in keys]
                if not awaited:
                    done = threading.Event()
                    self._making.update(dict.fromkeys(missing, done))
                    break
            for other in awaited:
                other.wait()
        made: dict[Any, T] = {}
        try:
            made = dict(zip(missing, make(list(missing.values())), strict=True))
        finally:
            with self._lock:
                self._kept.update(made)
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
                for key in missing:
                    del self._making[key]
            done.set()
        return [{**known, **made}[key] for key in keys]

    def recall(self, keys: Sequence[Any]) -> list[Any] | None:
        """One answer a key, or None if any is not kept. Waits for no answer under way."""
        with self._lock:
            if not all(key in self._kept for key in keys):
                return None
            return [self._kept[key] for key in keys]

    def forget(self) -> None:
        """Keep nothing."""
        with self._lock:
            self._kept.clear()

    def get(self, key: Any) -> Any:
        """What is kept for a key, or None."""
        with self._lock:
            return self._kept.get(key)

    def put(self, key: Any, value: Any) -> None:
        """Keep an answer in place of what was kept for its key."""
        self.each([key], lambda _: [value])
        with self._lock:
            self._kept[key] = value
