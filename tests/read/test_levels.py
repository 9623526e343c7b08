"""Level books that write side shots as foresights: read as what they are, and a lost height is still refused."""

from geoqa.read.levels import LevelsText


def read(tmp_path, *rows):
    path = tmp_path / "book.csv"
    path.write_text("\n".join(["Station,BS,HI,FS,Elev", *rows]) + "\n", encoding="utf-8")
    return LevelsText().read(path, source="book")


def test_a_foresight_after_which_nothing_was_set_up_is_a_side_reading(tmp_path):
    source = read(tmp_path, "A,5.12,,,", "1,,,4.70,", "2,,,6.20,", "TP,7.30,,7.70,", "3,,,7.34,", "B,,,2.46,")
    levels = source.layers["levels"]
    assert levels["intermediate"].fillna(-1).tolist() == [-1, 4.70, 6.20, -1, 7.34, -1]
    assert levels["foresight"].fillna(-1).tolist() == [-1, -1, -1, 7.70, -1, 2.46]
    (said,) = [str(each) for each in source.evidence if each.what == "side readings"]
    assert "3 foresights taken as intermediate" in said
    assert "lines 3, 4, 6" in said


def test_the_end_of_a_run_and_a_new_start_are_no_side_readings(tmp_path):
    source = read(tmp_path, "A,5.12,,,", "TP,3.00,,4.70,", "B,,,6.20,", "C,7.30,,,", "D,,,7.34,")
    assert source.layers["levels"]["intermediate"].isna().all()
    assert not [each for each in source.evidence if each.what == "side readings"]
