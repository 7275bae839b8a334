"""Many fits at once: the runs that all of them ask for are ridden as one batch.

A single fit spends most of its time on calls with a handful of rows each. A hundred of them in
step ask for the same calls with a hundred times the rows, which costs little more than one.
"""

import threading
from dataclasses import replace

import numpy as np

from curves.measured import fit as fitting
from curves.measured.predict import Ridden, ridden
from curves.motion.runs.panels import Panels


class Together:
    """Collects what threads ask for until all of them wait, then answers all."""

    def __init__(self, count):
        self._live = count
        self._asked = {}
        self._answers = {}
        self._turn = threading.Condition()

    def ridden(self, stacked):
        """Stands for ``predict.ridden`` in each thread."""
        me = threading.get_ident()
        with self._turn:
            self._asked[me] = stacked
            self._serve()
            while me not in self._answers:
                self._turn.wait()
            answer = self._answers.pop(me)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def leave(self):
        """A thread has come to its end."""
        with self._turn:
            self._live -= 1
            self._serve()

    def _serve(self):
        if not self._asked or len(self._asked) < self._live:
            return
        try:
            answers = _split(ridden(_joined(list(self._asked.values()))), self._asked.values())
        except Exception as error:
            answers = [error] * len(self._asked)
        self._answers.update(zip(self._asked, answers, strict=True))
        self._asked.clear()
        self._turn.notify_all()


def fits(monkeypatch, jobs):
    """Results of many calls that fit, made in step.

    Args:
        monkeypatch: pytest's.
        jobs: callables that fit and return what they found.
    """
    together = Together(len(jobs))
    monkeypatch.setattr(fitting, "ridden", together.ridden)
    results = [None] * len(jobs)

    def work(k):
        try:
            results[k] = jobs[k]()
        except Exception as error:
            results[k] = error
        finally:
            together.leave()

    threads = [threading.Thread(target=work, args=(k,)) for k in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for result in results:
        if isinstance(result, Exception):
            raise result
    return results


def _joined(stacks):
    first = stacks[0]
    return replace(
        first,
        names=tuple(name for one in stacks for name in one.names),
        values={k: np.concatenate([one.values[k] for one in stacks]) for k in first.values},
        ratios=np.concatenate([one.ratios for one in stacks]),
        derating=np.concatenate([one.derating for one in stacks], axis=1),
    )


def _split(whole, stacks):
    at = 0
    for one in stacks:
        rows = np.arange(at, at + len(one.names))
        at += rows.size
        yield Ridden(
            whole.batch.pick(rows),
            Panels(*(x[rows] for x in whole.panels)),
            whole.tail[rows],
            whole.top[rows],
        )
