"""Stepped components of the aircraft around the controller.

One file per component, each with plain attributes and a `step` or `tick`; `plant.Plant` ties them together. Every
component is deterministic: noise and bounce come from the seed alone. SI units inside; pressures of nitrous oxide are
absolute, fuel pressures are above ambient.
"""
