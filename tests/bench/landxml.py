"""LandXML files of what the standard allows, each with its answer: written by hand, read by nobody here."""

import math

import numpy as np
from scipy.integrate import quad

NAMESPACE = "http://www.landxml.org/schema/LandXML-{}"
IMPERIAL = (
    '<Units><Imperial areaUnit="squareFoot" linearUnit="{}" volumeUnit="cubicYard" temperatureUnit="fahrenheit" '
    'pressureUnit="inHG" diameterUnit="inch" angularUnit="decimal degrees" directionUnit="decimal degrees"/></Units>'
)
METRIC = (
    '<Units><Metric areaUnit="squareMeter" linearUnit="meter" volumeUnit="cubicMeter" temperatureUnit="celsius" '
    'pressureUnit="milliBars" diameterUnit="millimeter"/></Units>'
)
UNITS = {"ft": IMPERIAL.format("foot"), "ftUS": IMPERIAL.format("USSurveyFoot"), "m": METRIC}


def document(*parts, version="1.2", unit="ft", prefix="", epsg="", head="", foreign=True):
    """A whole file; comments, a processing instruction and another namespace stand where they may."""
    space = NAMESPACE.format(version)
    other = ' xmlns:own="urn:example:other"' if foreign else ""
    declared = f'xmlns:{prefix}="{space}"' if prefix else f'xmlns="{space}"'
    system = f'<CoordinateSystem desc="site" epsgCode="{epsg}"/>' if epsg else ""
    strange = '<own:Thing a="1"><own:Inner>5 5 5</own:Inner></own:Thing>' if foreign else ""
    extension = '<Feature code="x"><Property label="a" value="b"/></Feature>' if foreign else ""
    body = UNITS.get(unit, unit) + system + "<!-- made for a test -->" + "".join(parts) + extension
    if prefix:
        import re

        body = re.sub(r"<(/?)(?=[A-Z])", rf"<\1{prefix}:", body)
    root = f"{prefix}:LandXML" if prefix else "LandXML"
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n{head}<!-- before -->\n<?note none?>\n'
        f'<{root} {declared}{other} version="{version}" date="2026-01-31" time="08:00:00">\n{body}{strange}</{root}>\n'
    )


def text_of(place):
    """Northing, easting and, where there is one, elevation."""
    easting, northing, *high = place
    return " ".join(repr(float(each)) for each in (northing, easting, *high))


def cg_point(name, place, **attributes):
    more = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f'<CgPoint name="{name}"{more}>{text_of(place)}</CgPoint>'


def cg_points(*points, **attributes):
    more = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f"<CgPoints{more}>{''.join(points)}</CgPoints>"


def surface(name, points, faces, *, invisible=(), ids=None, state="", kind="TIN", before="", neighbours=False):
    """A TIN; `faces` are ids."""
    ids = range(1, len(points) + 1) if ids is None else ids
    rows = "\n".join(f'<P id="{at}">{text_of(place)}</P>' for at, place in zip(ids, points, strict=True))
    hidden, near = set(invisible), ' n="0 0 0"' if neighbours else ""
    marks = [' i="1"' if at in hidden else "" for at in range(len(faces))]
    fans = "\n".join(f"<F{near}{mark}>{' '.join(map(str, face))}</F>" for mark, face in zip(marks, faces, strict=True))
    said = f' state="{state}"' if state else ""
    return (
        f'<Surface name="{name}"{said}>{before}<Definition surfType="{kind}"><Pnts>\n{rows}\n</Pnts>'
        f"<!-- faces --><Faces>\n{fans}\n</Faces></Definition></Surface>"
    )


def surfaces(*each, **attributes):
    more = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f"<Surfaces{more}>{''.join(each)}</Surfaces>"


class Walk:
    """Geometry made by going along it: what is written, and where each element truly ends.

    Directions are azimuths in radians; `sense` +1 turns right, which is cw.
    """

    def __init__(self, easting, northing, azimuth, *, digits=None):
        self.place, self.azimuth, self.digits = (easting, northing), azimuth, digits
        self.xml, self.ends, self.lengths = [], [(easting, northing)], []

    def _text(self, place):
        return text_of(place if self.digits is None else [round(each, self.digits) for each in place])

    def _go(self, place, azimuth, length, xml):
        self.xml.append(xml)
        self.place, self.azimuth = place, azimuth
        self.ends.append(place)
        self.lengths.append(length)
        return self

    def line(self, length, *, stated=None):
        end = _off(self.place, self.azimuth, length)
        said = f' length="{length if stated is None else stated!r}"'
        xml = f"<Line{said}><Start>{self._text(self.place)}</Start><End>{self._text(end)}</End></Line>"
        return self._go(end, self.azimuth, length, xml)

    def curve(self, radius, angle, sense, *, by="centre", definition="arc", stated=None, elements="Start Center End"):
        centre = _off(self.place, self.azimuth + sense * math.pi / 2, radius)
        end = _off(centre, self.azimuth - sense * math.pi / 2 + sense * angle, radius)
        length = radius * angle
        told = f' length="{length if stated is None else stated!r}"'
        said = f' rot="{"cw" if sense > 0 else "ccw"}" crvType="{definition}"{told}'
        if by in ("radius", "both"):
            said += f' radius="{radius!r}"'
        inside = {"Start": self.place, "Center": centre, "End": end}
        if by == "radius":
            del inside["Center"]
        xml = "".join(f"<{key}>{self._text(inside[key])}</{key}>" for key in elements.split() if key in inside)
        return self._go(end, self.azimuth + sense * angle, length, f"<Curve{said}>{xml}</Curve>")

    def spiral(self, length, first, last, sense, *, kind="clothoid"):
        """A clothoid; radii may be infinite. Its end by adaptive quadrature of its direction."""
        k0, k1 = sense / first, sense / last

        def at(s):
            return self.azimuth + k0 * s + (k1 - k0) * s * s / (2 * length)

        easting = self.place[0] + quad(lambda s: math.sin(at(s)), 0, length, epsabs=1e-12, epsrel=1e-13)[0]
        northing = self.place[1] + quad(lambda s: math.cos(at(s)), 0, length, epsabs=1e-12, epsrel=1e-13)[0]
        end, out = (easting, northing), at(length)
        corner = _crossing(self.place, self.azimuth, end, out)
        radii = " ".join(
            f'radius{key}="{"INF" if math.isinf(each) else repr(each)}"'
            for key, each in (("Start", first), ("End", last))
        )
        xml = (
            f'<Spiral length="{length!r}" {radii} rot="{"cw" if sense > 0 else "ccw"}" spiType="{kind}">'
            f"<Start>{self._text(self.place)}</Start><PI>{self._text(corner)}</PI><End>{self._text(end)}</End></Spiral>"
        )
        return self._go(end, out, length, xml)

    def geometry(self):
        return f"<CoordGeom>{''.join(self.xml)}</CoordGeom>"


def _off(place, azimuth, distance):
    return place[0] + distance * math.sin(azimuth), place[1] + distance * math.cos(azimuth)


def _crossing(one, first, other, second):
    across = np.array([[math.sin(first), -math.sin(second)], [math.cos(first), -math.cos(second)]])
    share = np.linalg.solve(across, np.subtract(other, one))[0]
    return _off(one, first, share)


def plan_feature(name, geometry, **attributes):
    more = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f'<PlanFeature name="{name}"{more}>{geometry}</PlanFeature>'


def plan_features(*each, **attributes):
    more = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f"<PlanFeatures{more}>{''.join(each)}</PlanFeatures>"


def chain(places, *, flat=False):
    """An irregular line through places with elevations."""
    rows = [place[:2] if flat else place for place in places]
    body = " ".join(text_of(row) for row in rows)
    what = "PntList2D" if flat else "PntList3D"
    return (
        f"<CoordGeom><IrregularLine><Start>{text_of(rows[0])}</Start><End>{text_of(rows[-1])}</End>"
        f"<{what}>{body}</{what}></IrregularLine></CoordGeom>"
    )


def alignment(name, walk, *more, start=1000.0, length=None, **attributes):
    said = "".join(f' {key}="{value}"' for key, value in attributes.items())
    whole = sum(walk.lengths) if length is None else length
    return (
        f'<Alignments name=""><Alignment name="{name}" length="{whole!r}" staStart="{start!r}"{said}>'
        f"{walk.geometry()}{''.join(more)}</Alignment></Alignments>"
    )


def profile(*elements, name="design", state=""):
    said = f' state="{state}"' if state else ""
    return f'<Profile name="{name}"><ProfAlign name="{name}"{said}>{"".join(elements)}</ProfAlign></Profile>'


def write_grid(path, megabytes):
    """A surface of about that size: a grid of points on a wavy plane, two faces a cell; gives its points a side."""
    side = int(math.sqrt(megabytes * 1e6 / 111.0))
    with path.open("w", encoding="utf-8") as file:
        file.write(document("|", foreign=False).partition("|")[0])
        file.write('<Surfaces><Surface name="EG"><Definition surfType="TIN"><Pnts>\n')
        for n in range(side):
            rows = (
                f'<P id="{n * side + e + 1}">{445000 + n * 2.5:.4f} {2231000 + e * 2.5:.4f} {_wave(e, n):.4f}</P>\n'
                for e in range(side)
            )
            file.write("".join(rows))
        file.write("</Pnts><Faces>\n")
        for n in range(side - 1):
            first = n * side + 1
            file.writelines(
                f"<F>{at} {at + 1} {at + side}</F>\n<F>{at + 1} {at + side + 1} {at + side}</F>\n"
                for at in range(first, first + side - 1)
            )
        file.write("</Faces></Definition></Surface></Surfaces></LandXML>\n")
    return side


def _wave(e, n):
    return 1400.0 + (e * 7 + n * 3) % 1000 / 100.0
