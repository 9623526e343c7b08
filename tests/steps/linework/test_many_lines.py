"""Very many shots are not drawn as lines, and a note says what would."""

from geoqa.contract.sentences import note_lines
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines


def test_a_job_of_more_shots_than_asked_draws_none_and_says_so(job):
    rows = [{"line_id": "CTB1", "station": 25.0 * nth} for nth in range(6)]
    layers = job.layers(shots=job.prepared(job.shots(rows)))
    assert len(job.run(layers, AsBuiltLines(most=6))["asbuilt_lines"]) == 1
    made = job.run(layers, AsBuiltLines(most=5))
    assert not len(made["asbuilt_lines"])
    (line,) = note_lines(made["notes"], "ft", only=("lines-not-drawn",))
    assert "6 shots of lines" in line
    assert "most = 6" in line
