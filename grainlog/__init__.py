"""grainlog: photographs of live-edge slabs beside printed scale cards become measured, dated entries."""

__version__ = "0.1.0"
