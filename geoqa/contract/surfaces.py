"""Checks of surfaces: whether the ground, or a pavement, was built as high as its designed surface."""

from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason

SURFACE_KEY = ToleranceKey(
    name="surface",
    sides=("low", "high"),
    description="Above or below the design surface; a length, or { low = …, high = … }.",
)

SURFACE = Check(
    name="surface",
    title="Elevation against design surface",
    subject="work",
    quantity="length",
    directions=("low", "high"),
    axis="v",
    tolerance=SURFACE_KEY,
    better="a level reading",
    better_u=0.003,
    consequence="position",
    compared="The elevation of a shot minus that of the design surface at the shot's own place in plan: of the face of "
    "it that lies there, as it was given; nothing is triangulated anew.",
    judged="Uncertainty: the vertical one of the shot; what its plan uncertainty makes on the grade of the face; and, "
    "where the surface breaks within two plan uncertainties, what the break may make of it.",
    cannot_show="Nothing between two shots. Where faces lie over each other, only what the lowest and the highest of "
    "them both say is said. What a raster of cells or a coarse face leaves out of the true design is not known.",
    source="JCGM 106:2012, guarded acceptance and guarded rejection",
    reasons=(
        Reason(
            name="off-surface",
            text="the design surface does not reach this place",
            remedy="show the surface that goes on here, or leave the shot out of this kind",
            at_desk=True,
        ),
        Reason(
            name="surface-hole",
            text="the design surface has a hole here",
            remedy="have the hole in the design surface closed, or confirm that nothing is designed in it",
            at_desk=True,
        ),
        Reason(
            name="overlapping-faces",
            text="faces of the design surface lie over each other here, and they give two answers",
            remedy="have the design surface made without faces over each other, or name the one that is meant",
            judged=True,
            at_desk=True,
        ),
        Reason(
            name="several-surfaces",
            text="several surfaces were read, and the job does not say which one is the design",
            remedy='name it: [[steps]] use = "surface-deviations", surface = "NAME"',
            at_desk=True,
        ),
        Reason(
            name="no-surface",
            text="no design surface was read",
            remedy='name a file that holds it: a [[design]] with surfaces = ["NAME"]',
            at_desk=True,
        ),
    ),
    order=35,
)
