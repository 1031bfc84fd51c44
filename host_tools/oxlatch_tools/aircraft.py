"""An installation made ready for the virtual bench: settings, plant and digest."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_tools.installation import Installation, InstallationError, example, load_installation
from oxlatch_tools.installation_plant import plant_parameters
from oxlatch_tools.installation_settings import settings_of
from oxlatch_tools.outcome import bad_input_from

installation_option = click.option(
    "--installation",
    "installation_path",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Installation file; the Alpine tug when none is named.",
)


@dataclass(frozen=True)
class Aircraft:
    """One installation as the bench needs it. `settings` has one integer attribute per field of its table."""

    installation: Installation
    settings: Any
    plant: PlantParameters

    @property
    def name(self) -> str:
        """Its name, for titles."""
        return self.installation.aircraft.name

    @property
    def digest(self) -> str:
        """The installation digest."""
        return self.installation.digest


def load_aircraft(path: Path | None) -> Aircraft:
    """Read an installation file, or the Alpine tug. Raises BadInput."""
    with bad_input_from(InstallationError):
        installation = load_installation(path or example("alpine_tug"))
        return Aircraft(installation, settings_of(installation), plant_parameters(installation))
