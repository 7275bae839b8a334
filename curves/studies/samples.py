"""Samples of the unsure inputs of setups, and the setups that they make."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from curves.numerics.roots import Array
from curves.parts.base import Table
from curves.parts.rig import Rig
from curves.setups.stack import Stack
from curves.studies.common import pick
from curves.studies.tolerances import kept_possible, sampled_at, unsure

Method: TypeAlias = Literal["sobol", "latin hypercube"]


@dataclass(frozen=True)
class Input:
    """An unsure input of one part, which several setups may share.

    Attributes:
        name: ``part.field``.
        share: Relative standard uncertainty.
        fields: Fields of the stack that move with it.
        setups: Positions of the setups that carry the part.
        key: Of the input and its part, whatever stands beside it in the job.
    """

    name: str
    share: float
    fields: tuple[str, ...]
    setups: tuple[int, ...]
    key: int


def inputs_of(rigs: Sequence[Rig]) -> tuple[Input, ...]:
    """The unsure inputs of setups; a part that several of them use counts once.

    Args:
        rigs: The setups.
    """
    found: list[tuple[Table, Input]] = []
    for k, rig in enumerate(rigs):
        for name, (share, fields) in unsure(rig).items():
            table: Table = getattr(rig, name.partition(".")[0])
            for at, (other, known) in enumerate(found):
                if known.name == name and other == table:
                    found[at] = other, replace(known, setups=(*known.setups, k))
                    break
            else:
                key = zlib.crc32(f"{name} {table.model_dump_json()}".encode())
                found.append((table, Input(name, share, fields, (k,), key)))
    return tuple(known for _, known in found)


def normal_samples(keys: Sequence[int], count: int, *, method: Method, seed: int) -> Array:
    """Standard normal numbers that fill the space evenly, shape (samples, dimensions).

    Args:
        keys: Of the inputs; none gives one row of none. In a Latin hypercube the numbers of an
            input are its own key's, so that no other changes them.
        count: How many samples, rounded up to a power of 2 for Sobol' points.
        method: Sobol' points or a Latin hypercube.
        seed: Of the scrambling.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    if not keys:
        return np.empty((1, 0))
    if method == "sobol":
        points = qmc.Sobol(len(keys), seed=seed).random_base2(max(count - 1, 1).bit_length())
    else:
        own = [np.random.default_rng((seed, key)) for key in keys]
        points = np.stack([(x.permutation(count) + x.random(count)) / count for x in own], axis=1)
    # A scrambled point may round to the very edge.
    normal: Array = ndtri(np.clip(points, 1e-12, 1 - 1e-12))
    return normal


def sampled(setups: Stack, inputs: Sequence[Input], normal: Array) -> Stack:
    """Setups with their unsure inputs moved, all setups of the first sample first.

    Args:
        setups: The setups.
        inputs: What moves.
        normal: Standard normal numbers, shape (samples, inputs).
    """
    size = len(setups.names)
    many = pick(setups, np.tile(np.arange(size), normal.shape[0]))
    changed: dict[str, Array] = {}
    for k, moved in enumerate(inputs):
        factor = sampled_at(moved.share, normal[:, k])[:, None]
        some = list(moved.setups)
        for field in moved.fields:
            column = changed.setdefault(field, many.start(field)).reshape(-1, size)
            column[:, some] = many.values[field].reshape(-1, size)[:, some] * factor
    return many.vary({name: kept_possible(name, x) for name, x in changed.items()})
