"""Drying: what the wood will be when it is dry, when that is, and how sure anybody can be of it."""

from grainlog.drying.dry_size import (
    DryOutline,
    ScaleFactors,
    dry_outline,
    of_volume,
    scale_factors,
    scaled_outline,
)
from grainlog.drying.emc import emc
from grainlog.drying.errors import DryingError, SpeciesUnknown
from grainlog.drying.grain import RingShare
from grainlog.drying.moisture import format_moisture, parse_moisture
from grainlog.drying.species import Species, find_species, species_table

__all__ = [
    "DryOutline",
    "DryingError",
    "RingShare",
    "ScaleFactors",
    "Species",
    "SpeciesUnknown",
    "dry_outline",
    "emc",
    "find_species",
    "format_moisture",
    "of_volume",
    "parse_moisture",
    "scale_factors",
    "scaled_outline",
    "species_table",
]
