"""Constants, each named by its use, since trade and laboratory do not use the same ones.

Sources: SI 2019 and CODATA 2018 for the fixed ones; the rest is named beside the value.
"""

from __future__ import annotations

GAS_CONSTANT = 8.314462618  # J/(mol K)
ATMOSPHERE_BAR = 1.01325  # the standard atmosphere, also 1 atm and 1 ata
GRAVITY = 9.80665  # m/s2
ZERO_CELSIUS_K = 273.15
MOLAR_VOLUME_L = GAS_CONSTANT * ZERO_CELSIUS_K / (ATMOSPHERE_BAR * 100)  # L/mol of an ideal gas, 0 degC and 1 atm

DRY_AIR_OXYGEN = 0.2095
"""Oxygen in dry air where cells are read: only this gives the dry ratio of 4.773 (US Standard Atmosphere: 0.20948)."""
DRY_AIR_INERT = 1 - DRY_AIR_OXYGEN
"""Nitrogen with argon: by difference, so that air always closes to one."""
TRADE_OXYGEN = 0.21
TRADE_NITROGEN = 0.79
"""What the trade's own tables of narcotic depth divide by (common practice)."""

OXYGEN_G_MOL, NITROGEN_G_MOL, HELIUM_G_MOL, ARGON_G_MOL = 31.9988, 28.0135, 4.0026, 39.948
CO2_G_MOL, LIME_G_MOL = 44.0095, 74.093
AIR_NITROGEN, AIR_ARGON = 0.7812, 0.0093
INERT_OF_AIR_G_MOL = (AIR_NITROGEN * NITROGEN_G_MOL + AIR_ARGON * ARGON_G_MOL) / (AIR_NITROGEN + AIR_ARGON)
"""What is left of air without oxygen: argon makes it 0.4 % heavier than pure nitrogen."""

LOOP_CELSIUS = 37.0
"""Gas near the mouth (common practice); lungs are part of the loop."""
WATER_VAPOUR_KPA = 6.28
"""Water vapour at 37 degC, whatever the depth: 47 mmHg (respiratory tables; IAPWS-95 gives 6.2823)."""

BAR_PER_FSW = 0.030643
"""Salt water of 64 lb/ft3 (US Navy Diving Manual); 33 feet to the atmosphere would be 0.2 % more."""
FSW_PER_ATMOSPHERE = 33.0
"""The trade's round number."""
BAR_PER_MSW = 0.1
"""By definition; EN 13319 makes every gauge show it (seen in a laboratory's summary)."""
GAUGE_DENSITY = 1019.7
"""kg/m3 at which +1 bar is 10 m (EN 13319, as above)."""
