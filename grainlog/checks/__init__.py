"""Checks: found in one flat view, and followed from survey to survey."""

from grainlog.checks.found import COUNTED_MM, Check, FoundChecks

__all__ = ["COUNTED_MM", "Check", "FoundChecks"]
