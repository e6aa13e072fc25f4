"""Wood and water, held against the Wood Handbook of the USDA Forest Products Laboratory."""

from __future__ import annotations

from functools import partial

from routing.specs.moisture import (
    change_coefficient,
    density,
    dimensional_change,
    equilibrium_moisture,
    humidity_for_moisture,
    moisture_content,
)
from tests.published.checks import Check, Mark

HANDBOOK = "Wood Handbook FPL-GTR-190"
_HUMIDITIES = (5, 10, 20, 30, 40, 50, 60, 65, 70, 80, 85, 90, 95)
_TABLE_4_2 = {
    30: (1.4, 2.6, 4.6, 6.3, 7.9, 9.5, 11.3, 12.4, 13.5, 16.5, 18.5, 21.0, 24.3),
    60: (1.3, 2.5, 4.6, 6.2, 7.8, 9.4, 11.1, 12.1, 13.3, 16.2, 18.2, 20.7, 24.1),
    70: (1.3, 2.5, 4.5, 6.2, 7.7, 9.2, 11.0, 12.0, 13.1, 16.0, 17.9, 20.5, 23.9),
    80: (1.3, 2.4, 4.4, 6.1, 7.6, 9.1, 10.8, 11.7, 12.9, 15.7, 17.7, 20.2, 23.6),
}
# Shrinkage green to ovendry (table 4-3) and coefficient per 1 % (table 13-5), radial and tangential.
_SPECIES = {
    "yellow birch": ((7.3, 9.5), (0.00256, 0.00338)),
    "sugar maple": ((4.8, 9.9), (0.00165, 0.00353)),
    "American beech": ((5.5, 11.9), (0.00190, 0.00431)),
}


def _row(fahrenheit: int) -> tuple[float, ...]:
    return tuple(equilibrium_moisture((fahrenheit - 32) / 1.8, humidity) for humidity in _HUMIDITIES)


def _coefficients(*shrinkages: float) -> tuple[float, ...]:
    return tuple(change_coefficient(one) for one in shrinkages)


CHECKS = [
    *(
        # 70 °F and 85 % compute to 17.95 and are printed 17.9, so the tolerance is a little over half a digit.
        Check(f"moisture of wood at {f} °F, 5 to 95 % humidity", f"{HANDBOOK}, table 4-2", row, partial(_row, f), 0.07)
        for f, row in _TABLE_4_2.items()
    ),
    Check(
        "moisture at 20 °C, 50 %, °C coefficients",
        f"{HANDBOOK}, eq. 4-5",
        9.271,
        lambda: equilibrium_moisture(20, 50),
        0.001,
        Mark.COMPUTED,
        trap=9.46,
    ),
    Check(
        "moisture at 20 °C, 65 %",
        f"{HANDBOOK}, eq. 4-5",
        11.996,
        lambda: equilibrium_moisture(20, 65),
        0.001,
        Mark.COMPUTED,
    ),
    Check(
        "humidity that keeps wood at 8 %, 20 °C",
        f"{HANDBOOK}, eq. 4-5 solved",
        41.83,
        lambda: humidity_for_moisture(20, 8),
        0.01,
        Mark.COMPUTED,
    ),
    *(
        Check(
            f"change per 1 % moisture, {name}, radial and tangential",
            f"{HANDBOOK}, tables 4-3 and 13-5",
            coefficients,
            partial(_coefficients, *shrinkages),
            0.000006,
        )
        for name, (shrinkages, coefficients) in _SPECIES.items()
    ),
    Check(
        "a board of 232 mm, 8 to 11 %, C 0.00245 (coefficient and moistures from memory)",
        f"{HANDBOOK}, ch. 13 worked example",
        1.7,
        lambda: dimensional_change(232, 0.00245, 8, 11),
        0.05,
        Mark.FROM_MEMORY,
    ),
    Check(
        "the same board in inches (coefficient and moistures from memory)",
        f"{HANDBOOK}, ch. 13 worked example",
        0.067,
        lambda: dimensional_change(9.15, 0.00245, 8, 11),
        0.0005,
        Mark.FROM_MEMORY,
    ),
    Check(
        "density at 12 %, G 0.40 at 12 %",
        f"{HANDBOOK}, ch. 4",
        448.0,
        lambda: density(0.40, 12),
        0.5,
        trap=430.6,  # a formula for G on the ovendry volume, fed with G at 12 %
    ),
    Check(
        "20 % on the wet basis is 25 % on the dry basis",
        f"{HANDBOOK}, eq. 4-2",
        25.0,
        lambda: moisture_content(100 - 80, 80),
        1e-9,
        trap=20.0,
    ),
]
