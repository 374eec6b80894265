"""Oxygen exposure, of one stretch and of a course's days."""

from __future__ import annotations

from typing import Any

from course.physics import exposure
from course.physics.constants import ATMOSPHERE_BAR
from course.physics.exposure import Between, Limit
from course.physics.quantity import Choice, Input, Quantity, Text
from course.physics.result import Side

PO2_FROM = Input("po2", "at the start: the set point or the recorded PO2, never the diluent's", "ata", 0, 1.6)
PO2_TO = Input("po2_to", "at the end, if it changes evenly", "ata", 0, 1.6, optional=True)
MINUTES = Input("minutes", "how long", "min", 0, 1440)
BETWEEN = Choice("between", "how a PO2 between two lines is read", tuple(Between), Between.NEXT_LINE_UP)
LIMIT = Choice("row", "which row of the table", tuple(Limit), Limit.SINGLE)
EXPOSURES = Text(
    "exposures", "beginning, PO2 in ata and minutes of each, parted by semicolons", exposure.read_exposures
)
NOAA = "NOAA Diving Manual, 4th edition (2001), oxygen limits; seen in stored copies"
BARDIN = "Bardin and Lambertsen 1970, exponent 5/6"
VALID = f"to 1.6 ata, above which there is no value; below 0.6 ata nothing is counted; 1 ata is {ATMOSPHERE_BAR} bar"
_CAUTIONS = (
    "No dose is safe, and none says that one more session is.",
    "Since 2015 NOAA's own programme keeps to 1.4 ata, 1.6 only in decompression (its notice).",
)
_DAY = "sum of 100 x minutes / limit over the exposures in any 24 hours, in UTC, the highest such sum"


def _percent(po2: Any, minutes: float, row: Limit, between: Between, po2_to: float | None = None) -> float:
    return exposure.cns_percent(float(po2), float(po2 if po2_to is None else po2_to), float(minutes), row, between)


def _units(po2: Any, minutes: float, po2_to: float | None = None) -> float:
    return exposure.otu(float(po2), float(po2 if po2_to is None else po2_to), float(minutes))


QUANTITIES = (
    Quantity(
        name="cns-share",
        what="share of the oxygen limit that minutes on one PO2, or an even change, use up",
        unit="%",
        inputs=(PO2_FROM, PO2_TO, MINUTES, LIMIT, BETWEEN),
        words="integral of 100 / limit over the minutes",
        equation=_percent,
        source=NOAA,
        validity=VALID,
        side=Side.UP,
        decimals=1,
        cautions=_CAUTIONS,
    ),
    Quantity(
        name="otu",
        what="units of lung exposure in minutes on one PO2, or of an even change",
        unit="OTU",
        inputs=(PO2_FROM, PO2_TO, MINUTES),
        words=(
            "minutes x ((PO2 - 0.5) / 0.5) to the power of 5/6; an even change in closed form, only its part above 0.5"
        ),
        equation=_units,
        source=BARDIN,
        validity="PO2 in ata, nothing up to 0.5; to 1.6",
        side=Side.UP,
        decimals=1,
        cautions=("Allowances for several days are from memory and common practice, and not given here.",),
    ),
    Quantity(
        name="days-cns-single",
        what="highest share of the single exposure limit over several sessions",
        unit="%",
        inputs=(
            EXPOSURES,
            BETWEEN,
            Input(
                "half_time",
                "minutes off the loop that halve the share; none unless given",
                "min",
                1,
                1440,
                optional=True,
            ),
        ),
        words="sum of 100 x minutes / limit, halved every half time between the exposures if one is given",
        equation=lambda exposures, between, half_time=None: exposure.single_peak(exposures, between, half_time),
        source=f"{NOAA}; a half time of 90 min is common practice, without a controlled study",
        validity=VALID,
        side=Side.UP,
        decimals=1,
        cautions=_CAUTIONS,
    ),
    Quantity(
        name="days-cns-24h",
        what="highest share of the 24 h limit over several sessions, in any 24 hours",
        unit="%",
        inputs=(EXPOSURES, BETWEEN),
        words=_DAY,
        equation=exposure.rolling_peak,
        source=NOAA,
        validity=f"{VALID}; nothing halves here, and midnight does not matter",
        side=Side.UP,
        decimals=1,
        cautions=_CAUTIONS,
    ),
    Quantity(
        name="days-otu",
        what="most units of lung exposure over several sessions, in any 24 hours",
        unit="OTU",
        inputs=(EXPOSURES,),
        words="sum of the units of the exposures in any 24 hours, in UTC, the highest such sum",
        equation=exposure.rolling_otu,
        source=BARDIN,
        validity="PO2 in ata, nothing up to 0.5; to 1.6",
        side=Side.UP,
        decimals=0,
        cautions=("Allowances for several days are from memory and common practice, and not given here.",),
    ),
)
