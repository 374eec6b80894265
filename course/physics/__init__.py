"""What unit readings and errors on a loop mean in numbers: gas, loop, oxygen exposure and unit checks.

Teaching support. It plans no dive, computes no stop and no decompression, blends and fills nothing, and permits neither
to dive nor to breathe from anything. The certifying agency, the unit's manual, local codes and licensed medical and gas
practice decide.

Equations are plain functions over floats or arrays. What leaves this room comes through a registered quantity
(`registry`): a frozen answer with value, unit, mode, inputs, source, validity and cautions, rounded to the safe side
once and last; or a reason instead of a number.
"""
