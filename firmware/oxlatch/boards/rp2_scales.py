"""What the slow sensors' converter counts mean: integer tables and lines, nothing that allocates.

A table has one entry for every 64 of the converter's 4096 counts; between two entries a straight line.
"""

STEP_SHIFT = 6
STEP_MASK = 63

# A thermistor of 10 kohm at 25 degC and B = 3435 K to ground, 10 kohm to the converter's full scale, in tenths of a
# kelvin. Between -20 and 60 degC the straight lines are within 0.2 K of the law R = 10k exp(B (1/T - 1/298.15)).
THERMISTOR_DK = (
    10723, 4656, 4248, 4037, 3898, 3794, 3713, 3645, 3587, 3537, 3493, 3453, 3416, 3383, 3352, 3323, 3296,
    3270, 3246, 3223, 3201, 3179, 3159, 3139, 3120, 3101, 3083, 3065, 3048, 3031, 3014, 2998, 2982, 2965,
    2949, 2934, 2918, 2902, 2886, 2871, 2855, 2839, 2823, 2807, 2791, 2774, 2757, 2740, 2722, 2704, 2685,
    2665, 2645, 2623, 2601, 2577, 2551, 2522, 2491, 2455, 2414, 2364, 2297, 2193, 1731,
)  # fmt: skip

# A type K thermocouple with its cold junction made good, 122 times amplified over 1.25 V, 5 V full scale, in tenths of
# a kelvin; emf after ITS-90. Between -100 and 100 degC the straight lines are within 0.3 K. Below its range: 0.
THERMOCOUPLE_DK = (
    0, 0, 0, 0, 0, 0, 231, 812, 1140, 1404, 1635, 1844, 2039, 2223, 2398, 2567, 2732, 2892, 3051, 3207, 3362,
    3516, 3670, 3825, 3981, 4139, 4297, 4457, 4618, 4778, 4938, 5097, 5254, 5411, 5567, 5721, 5876, 6029,
    6183, 6335, 6488, 6640, 6791, 6943, 7094, 7244, 7395, 7545, 7696, 7846, 7996, 8146, 8296, 8447, 8597,
    8748, 8899, 9050, 9201, 9353, 9505, 9657, 9810, 9963, 10117,
)  # fmt: skip

# A barometer of 0.5 to 4.5 V for 20 to 120 kPa, in tens of pascals.
BARO_ZERO_MV = 500
BARO_ZERO_DAPA = 2000


def from_table(table, counts):
    """The value a table gives for 0 to 4095 counts."""
    at = counts >> STEP_SHIFT
    low = table[at]
    return low + ((table[at + 1] - low) * (counts & STEP_MASK) >> STEP_SHIFT)


def baro_dapa(millivolts):
    """Outside air pressure of a reading at the sensor; never below zero."""
    dapa = BARO_ZERO_DAPA + ((millivolts - BARO_ZERO_MV) * 5 >> 1)
    return dapa if dapa > 0 else 0
