"""Closed loop against the clock, and the stepped plant against solve_ivp with direct CoolProp calls."""

import time
from dataclasses import replace

from oxlatch_sim.bench import Bench
from oxlatch_sim.plant.continuous import Continuous, opening_and_release, stepped
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.routine import Routine
from oxlatch_tools.aircraft import Aircraft, load_aircraft

WANTED_RATIO = 100.0
SECONDS = 20.0


def flown(aircraft: Aircraft, plant: PlantParameters) -> Bench:
    """Three stages from power-up through a whole flow to its release; the bench afterwards."""
    settings = aircraft.settings
    settings.patterns = 0xFE  # type: ignore[attr-defined]
    bench = Bench(plant, settings, 1)
    routine = Routine(bench, bench.step)
    routine.flowing([1, 2, 3])
    routine.wait(5.0)
    bench.release()
    routine.wait(1.0)
    return bench


def against_the_clock(aircraft: Aircraft) -> Bench:
    """Print the best of three closed-loop ratios; the last bench."""
    flown(aircraft, aircraft.plant)
    best = 0.0
    for _ in range(3):
        started = time.process_time()
        bench = flown(aircraft, aircraft.plant)
        best = max(best, bench.ticks * 0.005 / (time.process_time() - started))
    print("closed loop, 1 ms plant step, three stages, power-up to release:")
    print(f"  {best:.0f} x real time (wanted {WANTED_RATIO:.0f})")
    return bench


def with_halved_step(aircraft: Aircraft, bench: Bench) -> None:
    """Print how much every exposure changes when the plant step is halved."""
    halved = flown(aircraft, replace(aircraft.plant, step_s=0.0005))
    print("plant step halved (wanted: no exposure changes by more than 1 ms):")
    for number, (coarse, fine) in enumerate(zip(bench.plant.stages, halved.plant.stages, strict=True), start=1):
        fuel = abs(coarse.exposure.fuel_only_ms - fine.exposure.fuel_only_ms)
        oxidizer = abs(coarse.exposure.oxidizer_only_ms - fine.exposure.oxidizer_only_ms)
        print(f"  stage {number}: F alone by {fuel:.2f} ms, O alone by {oxidizer:.2f} ms")


def against_the_solver(aircraft: Aircraft) -> None:
    """Print the ratio of times and the differences."""
    commands = opening_and_release(3)
    end_s = commands[-1].at_s + 0.16
    started = time.process_time()
    exact = Continuous(aircraft.plant).run(commands, end_s)
    solver_s = time.process_time() - started
    started = time.process_time()
    for _ in range(10):
        coarse = stepped(aircraft.plant, commands, end_s)
    stepped_s = (time.process_time() - started) / 10.0
    print(f"the same {end_s:.2f} s of flow by solve_ivp with direct CoolProp calls:")
    print(f"  stepped {1000 * stepped_s:.1f} ms, solve_ivp {solver_s:.1f} s: {solver_s / stepped_s:.0f} times as long")
    pressure = abs(coarse.bottle_pa / exact.bottle_pa - 1.0)
    print(f"  bottle pressure differs by {100 * pressure:.4f} % (wanted 0.5)")
    for index in range(3):
        o_mass = abs(coarse.oxidizer_kg[index] / exact.oxidizer_kg[index] - 1.0)
        f_mass = abs(coarse.fuel_kg[index] / exact.fuel_kg[index] - 1.0)
        o_time = abs(coarse.oxidizer_only_ms[index] - exact.oxidizer_only_ms[index])
        f_time = abs(coarse.fuel_only_ms[index] - exact.fuel_only_ms[index])
        print(
            f"  stage {index + 1}: O mass {100 * o_mass:.2f} %, F mass {100 * f_mass:.2f} % (wanted 1), "
            f"O alone {o_time:.2f} ms, F alone {f_time:.2f} ms (wanted 2)"
        )


def main() -> None:
    aircraft = load_aircraft(None)
    bench = against_the_clock(aircraft)
    with_halved_step(aircraft, bench)
    against_the_solver(aircraft)


if __name__ == "__main__":
    main()
