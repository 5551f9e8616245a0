"""Lengths, areas, volumes, board feet: reading what people write, writing what people read."""

from grainlog.units.errors import UnitsError
from grainlog.units.factors import board_feet, cubic_metres, square_feet, square_metres
from grainlog.units.quantity import Quantity
from grainlog.units.reading import (
    parse_area,
    parse_board_feet,
    parse_length,
    parse_size,
    parse_thickness,
    parse_volume,
)
from grainlog.units.writing import (
    format_area,
    format_board_feet,
    format_if_known,
    format_length,
    format_quantity,
    format_size,
)

__all__ = [
    "Quantity",
    "UnitsError",
    "board_feet",
    "cubic_metres",
    "format_area",
    "format_board_feet",
    "format_if_known",
    "format_length",
    "format_quantity",
    "format_size",
    "parse_area",
    "parse_board_feet",
    "parse_length",
    "parse_size",
    "parse_thickness",
    "parse_volume",
    "square_feet",
    "square_metres",
]
