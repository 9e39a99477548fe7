"""The engine's small family of errors: each has a code, what is wrong, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with a file or with the situation it describes.

    ``path`` names the place (``requests[17].due``, or ``line 3, column 9`` for text that is not
    JSON), ``problem`` says what is wrong with the value found there, ``remedy`` what to do.
    """

    path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.path}: {self.problem}; {self.remedy}"


class PlatenError(Exception):
    """Base of all errors that the engine raises on purpose.

    ``faults`` lists every fault found, in the order of the file; ``exit_code`` is what a command
    ends with.
    """

    code = "error"
    exit_code = 1

    def __init__(self, faults: list[Fault] | tuple[Fault, ...]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[PlatenError], tuple[tuple[Fault, ...]]]:
        """Copy by faults: an error that crosses processes would else be rebuilt from its text."""
        return type(self), (self.faults,)


class FileRefused(PlatenError):
    """A file that cannot be read as what it should be; nothing was changed."""

    code = "refused"
    exit_code = 2


class NetworkImpossible(PlatenError):
    """A sound network that no plan can serve: fixed appointments or care exclude each other."""

    code = "impossible"
    exit_code = 3


class PlanUnsound(PlatenError):
    """A plan failed its check before it left the engine: the program is at fault, not the file."""

    code = "unsound"
    exit_code = 1
