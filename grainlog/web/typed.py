"""What somebody typed into a form: read field by field, each problem said beside its field, and shown again as it was."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from grainlog.errors import GrainlogError


class Typed:
    """A form's text, by field, without empty ones; `problems` are sentences, by field."""

    def __init__(self, given: Mapping[str, str], fields: Iterable[str], longest: int = 200):
        self.text = {name: text for name in fields if (text := given.get(name, "").strip()[:longest])}
        self.problems: dict[str, str] = {}

    def read(self, name: str, how: Callable[[str], Any], otherwise: Any = None) -> Any:
        """A field as `how` reads it; `otherwise` for an empty one, or one with a problem."""
        if name not in self.text:
            return otherwise
        try:
            return how(self.text[name])
        except GrainlogError as error:
            self.problems[name] = str(error)
            return otherwise
