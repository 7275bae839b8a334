"""What the user did wrong: where, which value, and what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

from curves.plaintext import showable

MOST_SHOWN = 10


@dataclass(frozen=True)
class Problem:
    """One thing wrong in the input, its texts fit to be shown whatever the user's are.

    Args:
        where: file, table and field, such as ``job.toml: [pack.p14] series``.
        value: the value as written, empty where there is none to show.
        message: what is wrong and what would be right.

    >>> from curves import Problem
    >>> print(Problem("job.toml: title", "3", "must be text in quotes"))
    job.toml: title = 3: must be text in quotes
    """

    where: str
    value: str
    message: str

    def __post_init__(self) -> None:
        for one in fields(self):
            object.__setattr__(self, one.name, showable(getattr(self, one.name)))

    def __str__(self) -> str:
        written = f" = {self.value}" if self.value else ""
        return f"{self.where}{written}: {self.message}"


class JobError(ValueError):
    """The input cannot be used; ``str()`` gives one readable line per problem.

    Args:
        problems: what is wrong, the most important first.

    >>> from curves import JobError, parse_job
    >>> try:
    ...     parse_job("")
    ... except JobError as error:
    ...     print(error)
    job: is empty: a job begins with format = "rimforce-job-1"
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        hidden = len(self.problems) - MOST_SHOWN
        if hidden > 0:
            lines.append(f"… and {hidden} more")
        return "\n".join(lines)
