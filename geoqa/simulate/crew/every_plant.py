"""What a demo holds unless told otherwise."""

from geoqa.simulate.crew import finished_plants, plants

DEFAULT = (*plants.SOWN, *finished_plants.SOWN)
"""Every plant of the crew."""
