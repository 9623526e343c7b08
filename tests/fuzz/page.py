"""The page of the campaign, docs/fuzz.md."""

from collections import Counter
from collections.abc import Mapping

from fuzz.outcome import SECONDS, End

HEAD = """\
# Bad inputs: what comes of damaged files

Made by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m score tests/fuzz`, and not edited by hand. {drawn:,} inputs with
something wrong in them, drawn from fixed seeds: a change is judged by a share of them, and `GEOQA_WHOLE=1` runs all. {run}

A small sound file is made for every role in every format. Each case damages one: the way a table is written (line
ends, encoding, delimiter, order of columns), a cell, a row, the headings, the whole table; shapes, attributes and
systems of vector files; pairs of a drawing; words and elements of LandXML; lines of a job file; places of a file of
decisions; or plain bytes, cut, lost, changed, doubled and put in. Arguments of commands are drawn at random; a file
of a delivered folder is damaged and `geoqa verify` asked; and a whole job is run with one of its files damaged.

## How a case may end

| ending | means |
|---|---|
| refused | an error of geoqa's own: it names the file, no folder of this computer and nothing of our insides, and says what is allowed or what to do |
| ran and said | what was read differs, and a line of trouble or of evidence tells of it that the sound file does not get; of a whole job it stands in the notes |
| nothing to say | the tables that were read, the file's system and its unit are those of the sound file, number by number |
| another sound file | what was read differs and nothing is said, because nothing tells the file from one that is meant so: see below |
| silent difference | what was read differs, nothing is said, and it is not what the file says; also a refusal that is not clear |
| crash | any other error, or exit code 4 |
| hang | over {seconds:.0f} s of the processor; three times that for a whole job or a command |

The last three may never be: the test fails, and names the case.

## What cannot be known, and how it is held to the file

A digit changed, a row taken out whole, a heading exchanged for another known one give a file that somebody may have
meant. No reader can tell, so nothing has to be said; but what was read must be what now stands there:

* where one cell or row of a table was damaged, every other row is as it was, and so is every other cell of that row;
  what the damaged cell became stands in the file;
* where rows were taken out, doubled or put in another order, exactly the rows that are there were read;
* where a text was damaged anywhere, each easting, northing, elevation, station and rod reading that was read stands
  in it, and each line with something on it is a row or is told with its number;
* of files of features, there are as many lines, points and faces as before, or something is told; where a feature was
  taken out whole, one may be missing;
* a line of a job file that is changed makes another job, or is refused: none is without effect;
* a file of decisions that was changed is refused by its check value; one that was sealed anew is refused, or taken as
  it stands.

Not held so: numbers within binary files (GeoPackage, Shapefile, GeoTIFF, pictures), which are taken as they stand;
what a spiral or an arc is computed to; what an argument changes in the answer of a command. There only crash, hang
and refusal are judged, and of features their number.

## Counts
"""  # noqa: E501


def page(counts: Mapping[str, Counter[End]], drawn: int) -> str:
    """The text of docs/fuzz.md; `drawn` is how many cases the whole campaign has."""
    total = sum(sum(each.values()) for each in counts.values())
    names = list(End)
    rows = [["damaged", "cases", *names], ["---"] * (len(names) + 2)]
    for name, ends in counts.items():
        shown = f"`{name}`" if "." in name else name
        rows.append([shown, f"{sum(ends.values()):,}", *(f"{ends[each]:,}" for each in names)])
    sums = sum(counts.values(), Counter[End]())
    rows.append(["**all**", f"{total:,}", *(f"{sums[each]:,}" for each in names)])
    table = "\n".join(f"| {' | '.join(row)} |" for row in rows)
    run = "" if total == drawn else f"Of these, {total:,} were run for this page."
    return HEAD.format(drawn=drawn, run=run, seconds=SECONDS) + "\n" + table + "\n"
