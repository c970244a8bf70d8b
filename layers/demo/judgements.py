"""What three invented people think an animal needs most, compared two by two.

The ecologist and the fisher each hold together, with forage first for one and depth for the other. The ranger answers
as the ecologist does but for one slip: shelter against forage the wrong way round.
"""

from __future__ import annotations

TABLE = """# Invented for demonstration: three people who do not exist, asked one by one which of two
# things matters more to the animals, and how many times.
person,first,second,times_as_important
ecologist,forage,water_depth,2
ecologist,forage,water_temperature,4
ecologist,forage,shelter,6
ecologist,water_depth,water_temperature,3
ecologist,water_depth,shelter,4
ecologist,water_temperature,shelter,2
fisher,forage,water_depth,1/2
fisher,forage,water_temperature,2
fisher,forage,shelter,3
fisher,water_depth,water_temperature,4
fisher,water_depth,shelter,5
fisher,water_temperature,shelter,2
ranger,forage,water_depth,2
ranger,forage,water_temperature,4
ranger,forage,shelter,1/5
ranger,water_depth,water_temperature,3
ranger,water_depth,shelter,4
ranger,water_temperature,shelter,2
"""
