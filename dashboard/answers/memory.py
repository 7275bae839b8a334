"""Answers kept by what they depend on, so that a change asks again only for what it touches."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel

T = TypeVar("T")


def key_for(value: Any) -> Hashable:
    """What tells a value from every other, for a key: nothing that is in it is left out.

    Args:
        value: Plain values, arrays, models, data classes, and tables and lists of them.

    Raises:
        TypeError: if something else is in it.
    """
    match value:
        case None | bool() | int() | float() | str():
            return type(value).__name__, repr(value)
        case np.ndarray():
            return value.dtype.str, value.shape, hashlib.sha256(value.tobytes()).hexdigest()
        case BaseModel():
            return type(value).__name__, value.model_dump_json()
        case Mapping():
            return tuple((key_for(name), key_for(item)) for name, item in value.items())
        case list() | tuple():
            return tuple(map(key_for, value))
    if not is_dataclass(value):
        raise TypeError(f"{type(value).__name__} has no key")
    return type(value).__name__, *(key_for(getattr(value, f.name)) for f in fields(value))


class Memory:
    """Answers by setup, the latest used kept."""

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
                known = {key: self._used(key) for key in keys if key in self._kept}
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
            return [self._used(key) for key in keys]

    def forget(self) -> None:
        """Keep nothing."""
        with self._lock:
            self._kept.clear()

    def get(self, key: Any) -> Any:
        """What is kept for a key, or None."""
        with self._lock:
            return self._used(key) if key in self._kept else None

    def _used(self, key: Any) -> Any:
        """What is kept for a key; it goes last now."""
        self._kept.move_to_end(key)
        return self._kept[key]

    def put(self, key: Any, value: Any) -> None:
        """Keep an answer in place of what was kept for its key."""
        self.each([key], lambda _: [value])
        with self._lock:
            self._kept[key] = value
