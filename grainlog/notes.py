"""A remark that travels with a result: what was noticed on the way, for programs and for people."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Note:
    """Something the person should know.

    code : str
        For programs, such as "one-card".
    message : str
        For people: one sentence, what it is and, where something can be done, what to do.
    """

    code: str
    message: str
