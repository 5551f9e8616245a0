"""One family of errors: each message is a sentence a sawyer understands and says what to do next.

Every room raises narrow children of `GrainlogError`; the command line turns them into one line on stderr and
exit code 1, or 2 for `WrongUse`. Nothing else is caught there, so a traceback always means a defect of ours.
"""


class GrainlogError(Exception):
    """The work failed; the message says why and what to do (exit code 1)."""

    exit_code = 1


class WrongUse(GrainlogError):
    """The request itself cannot be meant as given (exit code 2)."""

    exit_code = 2
