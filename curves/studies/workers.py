"""Pieces of a study shared out to processes on this machine or to a Dask cluster."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from importlib import import_module
from threading import Thread
from typing import Any, TypeVar

from curves.errors import JobError, Problem

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 3
"""Pieces handed out a worker before any of them is back, so that a stop is soon obeyed."""
PATIENCE = "10s"
"""How long a Dask scheduler is waited for."""


def shared(
    work: Callable[[T], R],
    pieces: Sequence[T],
    executor: Executor | None,
    *,
    ahead: int,
    done: Callable[[int], bool],
) -> list[R]:
    """Work through pieces, on an executor or here; results in the order of the pieces.

    Args:
        work: What is done to each, a function other processes can import.
        pieces: The pieces.
        executor: Who does it; None for this process.
        ahead: How many pieces are handed out at a time.
        done: Told how many pieces are back after each; True stops, and what follows the last
            piece of the unbroken beginning is dropped.
    """
    if executor is None:
        found = []
        for piece in pieces:
            found.append(work(piece))
            if done(len(found)):
                break
        return found
    back: dict[int, R] = {}
    waiting: dict[Future[R], int] = {}
    queue = iter(enumerate(pieces))
    stopped = False
    while True:
        for k, piece in _few(queue, ahead - len(waiting)):
            waiting[executor.submit(work, piece)] = k
        if not waiting or stopped:
            break
        for future in wait(waiting, return_when=FIRST_COMPLETED).done:
            back[waiting.pop(future)] = future.result()
            stopped = done(len(back)) or stopped
    for future in waiting:
        future.cancel()
    unbroken = next((k for k in range(len(pieces)) if k not in back), len(pieces))
    return [back[k] for k in range(unbroken)]


def _few(queue: Iterator[tuple[int, T]], count: int) -> Iterator[tuple[int, T]]:
    for _ in range(count):
        piece = next(queue, None)
        if piece is None:
            return
        yield piece


@contextmanager
def local(workers: int | None = None) -> Iterator[Executor]:
    """Processes on this machine, one a core.

    Args:
        workers: How many; None for as many as there are cores.
    """
    import multiprocessing

    # Copies of a process that runs threads may hang; fresh ones do not.
    context = multiprocessing.get_context("spawn")
    count = workers or os.cpu_count() or 1
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=_begin)
    try:
        # Ctrl+C reaches every process of a terminal, also one that has not begun to ignore it.
        with _interrupts_wait():
            for _ in range(count):
                pool.submit(int)
        yield pool
        pool.shutdown(wait=True, cancel_futures=True)
    except BaseException:
        with _interrupts_wait():
            for process in set(multiprocessing.active_children()) - others:
                process.terminate()
            pool.shutdown(wait=True, cancel_futures=True)
        raise


@contextmanager
def _interrupts_wait() -> Iterator[None]:
    """Hold interrupts back for a moment; processes started meanwhile never hear of them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin() -> None:
    """A worker's first act: only the process that asked is interrupted, and none outlives it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    import multiprocessing

    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """The workers of a Dask scheduler, which must have this package too.

    Args:
        address: Of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Raises:
        JobError: if Dask is not installed or no scheduler answers.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        said = 'needs Dask: pip install "rimforce[cluster]"'
        raise JobError([Problem("--scheduler", address, said)]) from None
    try:
        client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        said = f"no Dask scheduler answers there: {error}"
        raise JobError([Problem("--scheduler", address, said)]) from None
    try:
        executor: Executor = client.get_executor()
        yield executor
    finally:
        client.close()
