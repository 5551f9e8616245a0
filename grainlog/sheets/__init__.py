"""What is printed: the scale cards."""

from grainlog.sheets.cards import write_cards

__all__ = ["write_cards"]
