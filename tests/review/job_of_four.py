"""A small job of four shots in metres, in another zone than the sample jobs, with one valve out of tolerance."""

JOB = """\
[job]
name = "Four shots"
[frame]
horizontal = "EPSG:32614"
[[shots]]
file = "log.csv"
[codes]
file = "codes.csv"
[control]
file = "marks.csv"
[[design]]
file = "design.csv"
[uncertainty.default]
horizontal_random = "0.005 m"
horizontal_common = "0 m"
vertical_random = "0.008 m"
vertical_common = "0 m"
reference = "repeat shots of our own"
[tolerance.control]
horizontal = "0.03 m"
vertical = "0.04 m"
reference = "sheet 2"
[tolerance.valve]
horizontal = "0.10 m"
reference = "sheet 7, note 3"
[outputs]
folder = "out"
layers = ["csv", "summary"]
pages = []
"""
LOG = """\
shot,easting,northing,elevation,code,line_id
101,500000.010,4500000.000,100.004,CHK,M1
102,500010.004,4500010.003,100.201,VLV,V-1
103,500020.350,4500010.003,100.201,VLV,V-2
104,500030.001,4500010.001,100.300,VLV,V-3
"""
CODES = "code,kind,geometry,role\nCHK,control,point,check\nVLV,valve,point,feature\n"
MARKS = "mark,easting,northing,elevation,u_h,u_v\nM1,500000.000,4500000.000,100.000,0.002,0.002\n"
DESIGN = """\
point,kind,easting,northing,elevation
V-1,valve,500010.000,4500010.000,100.200
V-2,valve,500020.000,4500010.000,100.200
V-3,valve,500030.000,4500010.000,100.300
"""


def write(folder):
    """Write the job into a folder; returns its job file."""
    files = {"four.toml": JOB, "log.csv": LOG, "codes.csv": CODES, "marks.csv": MARKS, "design.csv": DESIGN}
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "four.toml"
