"""Kinds that are drafted for the words of a drawing: no layer is dropped for what another one holds."""

import ezdxf
from click.testing import CliRunner

from geoqa.cli import main


def test_points_of_a_layer_without_blocks_keep_their_line_though_blocks_stand_elsewhere(tmp_path):
    document = ezdxf.new()
    space = document.modelspace()
    for name in ("HYD", "VLV"):
        document.blocks.new(name)
        space.add_blockref(name, (500001, 4500002), dxfattribs={"layer": "C-WATR"})
    for at in (500010.0, 500020.0):
        space.add_point((at, 4500000.0), dxfattribs={"layer": "P-STM-INL"})
    document.saveas(tmp_path / "plan.dxf")
    rows = "shot,easting,northing,elevation,code\n1,500010,4500000,100,INL\n2,500020,4500000,100,INL\n"
    (tmp_path / "log.csv").write_text(rows, "utf-8")
    told = CliRunner().invoke(main, ["init", str(tmp_path)])
    assert told.exit_code == 0, told.output
    draft = (tmp_path / "job.toml").read_text("utf-8")
    line = next(each for each in draft.splitlines() if each.lstrip("# ").startswith("layers ="))
    assert '"P-STM-INL"' in line
    assert "C-WATR" not in line
    told_apart = [each for each in draft.splitlines() if "told apart by block" in each]
    assert ["C-WATR" in each for each in told_apart] == [True]
