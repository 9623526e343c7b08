"""A curb of twenty shots and three valves in metres, round by round: what is low, what was rebuilt, what was shot."""

JOB = """\
[job]
name = "A curb"
[frame]
horizontal = "EPSG:32614"
{shots}
[codes]
file = "codes.csv"
[control]
file = "marks.csv"
[[design]]
file = "points.csv"
[[design]]
file = "lines.geojson"
[uncertainty.default]
horizontal_random = "0.004 m"
horizontal_common = "0 m"
vertical_random = "0.004 m"
vertical_common = "0 m"
reference = "repeat shots of our own"
[tolerance.control]
horizontal = "0.03 m"
vertical = "0.04 m"
reference = "sheet 2"
[tolerance.valve]
horizontal = "0.10 m"
reference = "sheet 7"
[tolerance.curb]
horizontal = "0.05 m"
vertical = "{limit} m"
reference = "sheet 3"
[outputs]
folder = "out"
layers = ["{layers}"]
pages = []
"""
HEAD = "shot,easting,northing,elevation,code,line_id\n"
LINES = """\
{{"type": "FeatureCollection", "features": [{{"type": "Feature", "properties": {{"name": "C-1", "kind": "curb"}},
"geometry": {{"type": "LineString", "coordinates": [[500000, 4500000, 100], [500200, 4500000, 100]]}}}}]}}
"""
POINTS = """\
point,kind,easting,northing,elevation
V-1,valve,500010.000,4500010.000,100.200
V-2,valve,500020.000,4500010.000,100.200
V-3,valve,500030.000,4500010.000,100.300
"""
CODES = "code,kind,geometry,role\nCHK,control,point,check\nVLV,valve,point,feature\nCRB,curb,line,feature\n"
MARKS = "mark,easting,northing,elevation,u_h,u_v\nM1,500000.000,4500000.000,100.000,0.002,0.002\n"
CHECK = "1,500000.003,4500000.002,100.003,CHK,M1\n"
STATIONS = tuple(range(0, 200, 10))
LOW = (50, 60, 70, 80)


def curb(stations, *, first, low=(), by=0.10):
    """Rows of curb shots, named from `first`; at the stations `low` they lie too low."""
    rows = []
    for station in stations:
        nth = station // 10
        height = 100.0 + 0.002 * (nth % 3 - 1) - (by if station in low else 0.0)
        rows.append(f"{first + nth},{500000 + station + 0.5:.3f},{4500000.002:.3f},{height:.3f},CRB,C1\n")
    return "".join(rows)


def valves(*, first, off=(), names=("V-1", "V-2", "V-3")):
    """Rows of valve shots; those called `off` lie 0.4 m east of the design."""
    rows = []
    for name in names:
        nth = int(name[-1])
        east = 500000 + 10 * nth + (0.4 if name in off else 0.003)
        rows.append(f"{first + nth},{east:.3f},4500010.001,100.2,VLV,{name}\n")
    return "".join(rows)


def write(folder, files, *, limit="0.05", layers="csv"):
    """Write the job of a round with its files of shots, by name; returns its job file."""
    folder.mkdir(parents=True, exist_ok=True)
    shots = "\n".join(f'[[shots]]\nfile = "{name}"' for name in files)
    others = {"codes.csv": CODES, "marks.csv": MARKS, "points.csv": POINTS, "lines.geojson": LINES.format()}
    for name, text in {**others, **{name: HEAD + CHECK + text for name, text in files.items()}}.items():
        (folder / name).write_text(text, encoding="utf-8")
    job = folder / "curb.toml"
    job.write_text(JOB.format(shots=shots, limit=limit, layers=layers), encoding="utf-8")
    return job
