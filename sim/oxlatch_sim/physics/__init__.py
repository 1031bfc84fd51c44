"""Pure functions in SI units, each with its source and its validity range.

Modules:

- `validity`: the one error raised outside a validity range, and the checks that raise it
- `nitrous`: nitrous oxide states: saturation, liquid-full, supercritical, superheated vapour
- `orifice`: mass flow through jets and valves: liquid, homogeneous equilibrium (choked), Dyer; and the
  inverse
- `tables`: the same properties and choked fluxes tabulated once, for use inside a 1 ms plant step
- `flux_tables`, `grid`: parts of `tables`: choked fluxes, and interpolation on a uniform grid
- `bottle`: equilibrium blowdown of a closed bottle, liquid or vapour draw, run-out
- `lines`: pipe loss, fill time, pressure waves, hydraulic shock, trapped liquid
- `atmosphere`: standard atmosphere, pressure altitude, density altitude with humidity
- `engine`: power lapse, mean effective pressure, correction factors, peak-pressure and knock estimates
- `combustion`: oxygen and energy balance of nitrous oxide with gasoline, charge cooling, compression heating
- `coil`: current rise, pull-in, drop-out and clamp-dependent release of a solenoid
- `wire`: conductor resistance, ampacity, breaker, drop and hot resistance
- `sensors`: ratiometric transducer, thermistor, type K thermocouple

Every function refuses an argument outside its validity range with `validity.PhysicsRangeError`; NaN is
outside every range.
"""
