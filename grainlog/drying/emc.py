"""Equilibrium moisture content: what wood comes to in air of a given temperature and humidity.

The Hailwood-Horrobin equation with two hydrates and the coefficients of Simpson (1973): Wood Handbook Eq. 4-5
(FPL-GTR-190 and -282; the Celsius and the Fahrenheit form verified in public transcriptions of it). The handbook's
Table 4-2 reaches from 30 to 210 F and from 5 to 95 % humidity; outside it the equation is refused. It is the same for
every species and knows no hysteresis: wood that dries stays a point or two wetter than wood that takes up water.
"""

import math

from grainlog.drying.errors import DryingError

LEAST_C, GREATEST_C = (30 - 32) / 1.8, (210 - 32) / 1.8
LEAST_HUMIDITY, GREATEST_HUMIDITY = 0.05, 0.95

#: How far a slab may stay from the equation: species and hysteresis (common practice, no source).
EMC_U = 0.01

# W, K, K1, K2: constant, linear and quadratic term in the temperature.
_CELSIUS = ((349.0, 1.29, 0.0135), (0.805, 0.000736, -0.00000273), (6.27, -0.00938, -0.000303), (1.91, 0.0407, -0.000293))
_FAHRENHEIT = (
    (330.0, 0.452, 0.00415), (0.791, 0.000463, -0.000000844), (6.34, 0.000775, -0.0000935), (1.09, 0.0284, -0.0000904)
)  # fmt: skip


def emc(temperature_c: float, humidity: float) -> float:
    """Equilibrium moisture content, a fraction, at a temperature in C and a relative humidity as a fraction.

    Raises DryingError outside -1.1 to 98.9 C and 5 to 95 % humidity.
    """
    if not (LEAST_C - 1e-9 <= temperature_c <= GREATEST_C + 1e-9):
        raise DryingError(
            f"{temperature_c:.1f} C ({temperature_c * 1.8 + 32:.0f} F) lies outside the handbook's table, which reaches "
            "from -1.1 to 98.9 C (30 to 210 F); what wood comes to there is not known here."
        )
    return _hailwood_horrobin(temperature_c, _checked_humidity(humidity), _CELSIUS)


def emc_fahrenheit(temperature_f: float, humidity: float) -> float:
    """The same from a temperature in F by the handbook's own Fahrenheit coefficients. Raises DryingError."""
    if not 30.0 <= temperature_f <= 210.0:
        raise DryingError(f"{temperature_f:g} F lies outside the handbook's table, which reaches from 30 to 210 F.")
    return _hailwood_horrobin(temperature_f, _checked_humidity(humidity), _FAHRENHEIT)


def _checked_humidity(humidity: float) -> float:
    if not math.isfinite(humidity) or not LEAST_HUMIDITY - 1e-9 <= humidity <= GREATEST_HUMIDITY + 1e-9:
        raise DryingError(
            f"A humidity of {100 * humidity:g} % lies outside the handbook's table, which reaches from 5 to 95 %."
        )
    return humidity


def _hailwood_horrobin(t: float, h: float, coefficients: tuple) -> float:
    w, k, k1, k2 = (a + b * t + c * t * t for a, b, c in coefficients)
    kh = k * h
    dissolved = kh / (1 - kh)
    hydrated = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return 18 / w * (dissolved + hydrated)
