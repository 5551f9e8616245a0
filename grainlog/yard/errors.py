"""What can go wrong in the yard, each a sentence that says what to do next."""

from grainlog.errors import GrainlogError, WrongUse


class YardError(GrainlogError):
    """The yard could not do it; what was stored before is still there."""


class NotAYard(YardError):
    """The folder holds no yard."""


class YardTooNew(YardError):
    """A later grainlog wrote this yard; this one would not understand all of it."""


class YardInTheWay(WrongUse):
    """A yard cannot be started in this folder."""


class NoSuchSlab(WrongUse):
    """No slab in the yard carries that number."""


class FilingRefused(WrongUse):
    """The facts given for a slab contradict each other or what the yard already holds."""


class RemovalRefused(WrongUse):
    """The slab cannot be taken out while other entries rest on it."""


class LifeRefused(WrongUse):
    """What is said to have happened contradicts itself or what the yard already holds."""


class QueryRefused(WrongUse):
    """The search as asked cannot be meant."""


class SettingRefused(WrongUse):
    """The value cannot be what the setting means."""
