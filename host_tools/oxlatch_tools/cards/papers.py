"""Papers for hangar and logbook: bottle book, jet and line map, limits for signature."""

from oxlatch_tools.cards.card import Block, Card, Caution, Grid, Words
from oxlatch_tools.installation_fitted import fitted
from oxlatch_tools.planning.calibration import discharge
from oxlatch_tools.planning.jets import bore_of
from oxlatch_tools.planning.page import pattern_name
from oxlatch_tools.planning.plan import Plan, missing_figures, reduced_claims
from oxlatch_tools.presentation import Units, quantity_text


def bottle_book(plan: Plan, units: Units) -> Card:
    """One page of the bottle book."""
    bottle = plan.installation.bottle

    def text(value: float, kind: str) -> str:
        return quantity_text(value, kind, units)

    facts = [
        f"Empty with valve {text(bottle.tare, 'mass')}, nitrous {text(bottle.charge, 'mass')}, full "
        f"{text(bottle.tare + bottle.charge, 'mass')}; never more than "
        f"{text(bottle.fill_limit * bottle.volume, 'mass')} of nitrous.",
        f"Service pressure {text(bottle.service_pressure, 'pressure')}, relief "
        f"{text(bottle.relief_pressure, 'pressure')}.",
        "Serial ____________________   Last tested ____________   Next test due ____________",
    ]
    head = ["Date", "Filled by", "Full weight", "Use (s)", "Stages", "Weight after", "Remarks, refusals", "Initials"]
    widths = (0.11, 0.13, 0.11, 0.08, 0.09, 0.12, 0.26, 0.10)
    cautions = [
        "Fill by weight, by whoever is licensed to. A bottle out of test is not filled. A new bottle voids the purge."
    ]
    return Card(
        "bottle-book", "Bottle book", "A4", [Words(facts, 11), Grid(head, [], widths, 9.5, 8.5, 20), Caution(cautions)]
    )


def jet_map(plan: Plan, units: Units) -> Card:
    """Every jet and line by stage and cylinder, with room for what was fitted."""
    installation = plan.installation
    rows = []
    for number, stage in enumerate(installation.stages, start=1):
        bores = [bore_of(plan.feed, number, fluid) for fluid in ("oxidizer", "fuel")]
        texts = [
            "valve too small" if bore is None else f"{bore * 1e3:.3f} mm  {bore / 0.0254:.4f} in" for bore in bores
        ]
        for nozzle in range(1, stage.nozzles + 1):
            where = f"{number}, cylinder {nozzle}" if stage.delivery == "port" else f"{number}, ahead of plenum"
            rows.append([where, texts[0], texts[1], "", "", "", ""])
    head = ["Stage and place", "O bore", "F bore", "O fitted", "F fitted", "Lines O / F", "Serials"]
    coefficients = [
        f"Stage {number}: O {discharge(installation, number, 'oxidizer').origin}, F "
        f"{discharge(installation, number, 'fuel').origin}; "
        f"lines O {quantity_text(stage.oxidizer_branch_length, 'arm', units)}, F "
        f"{quantity_text(stage.fuel_branch_length, 'arm', units)}."
        for number, stage in enumerate(installation.stages, start=1)
    ]
    words = ["O oxidizer, F fuel; different fittings, never exchanged. Bores are diameters.", *coefficients]
    cautions = [
        "Drilled by hand, weighed by shots, balanced by cylinder. Any change re-opens bench flow and engine tests."
    ]
    widths = (0.17, 0.22, 0.22, 0.1, 0.1, 0.09, 0.1)
    return Card(
        "jet-map", "Jets and lines", "A4", [Words(words, 10.5), Grid(head, rows, widths, 9, 7.2), Caution(cautions)]
    )


def limits_page(plan: Plan, units: Units) -> Card:
    """The limits, what they rest on, what is not fitted and not proved, and who answers for them."""
    installation = plan.installation
    signed = installation.tested.limits_signed
    tested = installation.tested.patterns
    rows = [[pattern_name(sorted(entry.stages)), str(entry.date), entry.note] for entry in tested]
    locked = [pattern_name(pattern) for pattern in installation.patterns() if not installation.is_tested(pattern)]
    rows += [[name, "NOT TESTED", "locked"] for name in locked]
    parts = fitted(installation)
    gaps = reduced_claims(installation) + [f"Not yet in the file: {item}." for item in missing_figures(installation)]
    blocks: list[Block] = [
        Grid(["Limit", "Value"], _limits(plan, units), (0.55, 0.45), 10, 6.2),
        Words([f"Rests on: {installation.ceiling.evidence}"], 10),
        Grid(["Stages", "Ground test", "Note"], rows, (0.2, 0.25, 0.55), 10, 6.2),
        Words(
            [
                f"Fitted: {', '.join(parts) if parts else 'only what always must be'}.",
                *(gaps or ["Nothing is left out or unmeasured."]),
            ],
            10,
        ),
        Caution(["No limit here is approved by anyone but the one who signs. Raising one re-opens its tests."]),
    ]
    name = signed or "Answers for these limits"
    return Card("limits", "Limits, for signature", "A4", blocks, (name, "Inspected by", "Date"))


def _limits(plan: Plan, units: Units) -> list[list[str]]:
    installation = plan.installation
    limits, engine, timing = installation.limits, installation.engine, installation.timing

    def text(value: float, kind: str) -> str:
        return quantity_text(value, kind, units)

    airspeed = installation.aircraft.boost_airspeed_limit
    return [
        ["Power, all stages and engine together", text(installation.ceiling.power, "power")],
        [
            "Without boost, rated; what remains when boost is lost is less with altitude",
            text(engine.rated_power, "power"),
        ],
        ["Oxygen added, of that in the air", text(installation.ceiling.enrichment_cap, "whole per cent")],
        ["Engine speed", f"{text(engine.boost_speed_low, 'rotation')} to {text(engine.boost_speed_high, 'rotation')}"],
        ["Airspeed above which boost is not to be used", f"{airspeed / 0.514444:.0f} kt ({airspeed * 3.6:.0f} km/h)"],
        [
            "Line pressure to become ready, absolute",
            f"{text(limits.supply_permit, 'pressure')} to {text(limits.supply_top, 'pressure')}",
        ],
        ["Line pressure at which flow stops", text(limits.supply_cut, "pressure")],
        ["Fuel pressure", f"{text(installation.fuel.set_pressure, 'fuel pressure')} ± {limits.fuel_band:.0%}"],
        [
            "Bus voltage to become ready; to keep flowing",
            f"{text(installation.electrical.permit, 'voltage')}; {text(installation.electrical.lowest, 'voltage')}",
        ],
        ["Longest run", text(timing.longest_run, "time")],
        ["Purge, at least", text(timing.purge, "tenths")],
        ["Mixture O:F accepted", f"{installation.oxidizer.mixture_rich:g} to {installation.oxidizer.mixture_lean:g}"],
    ]
