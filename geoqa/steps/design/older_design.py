"""Design files whose lines all shots miss by one shift: an older revision used as design, it may be."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.design_sentences import shared_misses
from geoqa.contract.survey import OLDER_DESIGN
from geoqa.contract.work import ELEVATION, OFFSET
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.model.words import listed, many
from geoqa.steps.causes.older_lines import FEWEST, Missed, files_older, missed_together, nearer_limit
from geoqa.steps.causes.other_foot import units_read
from geoqa.steps.design.applied_shifts import sessions
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.file_apart import fact_of_file, files_apart, held_apart
from geoqa.steps.design.wrong_foot import fact_of_foot, finding_of_foot, held_in_foot, wrong_feet
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, verdicts_of, with_limits
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import noted

CHECKS = (OFFSET, ELEVATION)
NAMES = 6
"""Lines that are named."""


class OlderDesign(Step):
    """Notice a design file that is older than the register of the job says, by lines that all shots miss alike.

    A shift that whole lines of a file share, in two sessions or more, while other lines of these sessions are sound, is
    not the survey's. Where the register says that the file is older, its verdicts wait, shown both ways, and one
    finding asks for the revision in force; where one session alone shows it, or no other line was shot in them, a note
    tells it. Where the register is silent, a note asks which revision the file is. A file that all shots miss by what
    the two feet differ by at their coordinates was read in the wrong one: its verdicts wait too. A file that all shots
    of its kinds lie away from, and on it once it is moved, lies apart: nothing is held against it.
    """

    name = "older-design"
    needs = ("line_matches", "design_lines", "design_elements", "limits", "shots.use", "shots.flags",
             "shots.u_h_random")  # fmt: skip
    wants = ("sources", "design_register", "believed_parts", "session_shifts", "chorded_curves", "point_matches",
             "design_points", "reduced_shots", "loose_sessions", "loose_shots")  # fmt: skip
    gives = ("older_designs", "apart_shots")
    adds = ("findings", "evidence", "notes")

    fewest: int = Field(FEWEST, ge=3, description="Fewest shots that show the shift")
    slight: float = Field(0.25, gt=0, description="Share of the limit below which the other axis is judged as ever")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """File by file."""
        made = {name: empty(name) for name in (*self.gives, *self.adds)}
        register = layers["design_register"] if "design_register" in layers else empty("design_register")
        files = layers["design_lines"]["source"].dropna().drop_duplicates().sort_values().tolist()
        said = {str(row["source"]): row for row in register.to_dict("records")}
        older = files_older(layers)
        if not older & set(files) and len(files) < 2:
            files = []
        files = [each for each in files if each in older or each not in said]
        # of a season either table is gigabytes: made only where a file is asked about
        numbers = {OFFSET.name: _numbers(layers, OFFSET)} if files or units_read(layers) else {}
        tables, parts, facts = [], [], []
        misread = wrong_feet(layers, numbers[OFFSET.name]) if numbers else []
        if files or misread:
            numbers |= {check.name: _numbers(layers, check) for check in CHECKS if check.name not in numbers}
        for foot in misread:
            facts.append(fact_of_foot(layers, foot))
            tables.append(held_in_foot(layers, foot))
            parts.append(finding_of_foot(layers, facts[-1], _waiting(numbers, tables[-1])))
        moved = files_apart(layers)
        for each in moved:
            facts.append(fact_of_file(layers, each))
        in_question = set(files) - {foot.file for foot in misread} - {each.file for each in moved}
        for file in (each for each in files if each in in_question):
            fact, held = self._of_file(layers, numbers, file, said.get(file, {}))
            facts += [fact] if fact else []
            if fact and held is not None:
                tables.append(held)
                parts.append(_finding(layers, file, fact, numbers, held))
        if tables:
            table = pd.concat(tables, ignore_index=True).sort_values(["source", "line", "check"], ignore_index=True)
            made["older_designs"] = conform("older_designs", table)
            findings, evidence = zip(*parts, strict=True)
            made["findings"] = pd.concat(findings, ignore_index=True)
            made["evidence"] = pd.concat(evidence, ignore_index=True)
        if moved:
            rows, shots = zip(*(held_apart(layers, each) for each in moved), strict=True)
            made["older_designs"] = pd.concat([made["older_designs"], *rows], ignore_index=True)
            made["apart_shots"] = pd.concat(shots, ignore_index=True).drop_duplicates("shot_key", ignore_index=True)
        return made | {"notes": noted(self.name, facts)}

    def _of_file(
        self, layers: Layers, numbers: dict[str, pd.DataFrame], file: str, said: dict[Any, Any]
    ) -> tuple[dict[str, Any] | None, pd.DataFrame | None]:
        """What is said of a file, and its rows of `older_designs` where its verdicts wait."""
        seen = {name: missed_together(rows, file, fewest=self.fewest) for name, rows in numbers.items()}
        missed = {name: each for name, each in seen.items() if each is not None}
        proven = {name: each for name, each in missed.items() if each.proven}
        missed = proven or missed
        if not missed:
            return None, None
        if not said:
            whole = all(each.whole and len(each.found.lines) > 1 for each in missed.values())
            return (_fact(file, missed, {}, 0, "asked") if proven and whole else None), None
        held = self._held(numbers, file, missed)
        if not (out := _out(layers, numbers, held)):
            return None, None
        return _fact(file, missed, said, out, "held" if proven else "told"), held if proven else None

    def _held(self, numbers: dict[str, pd.DataFrame], file: str, missed: dict[str, Missed]) -> pd.DataFrame:
        """Rows of `older_designs`: lines that are missed along either axis, with the shift along both."""
        lines = {str(name) for each in missed.values() for name in each.rows["subject"][each.mine]}
        made = []
        for check, rows in numbers.items():
            seen = missed.get(check)
            own = set() if seen is None else {str(name) for name in rows["subject"][seen.mine]}
            for line in sorted(lines & own):
                made.append({"line": line, "check": check, **_shift(seen)})
            rest = rows["subject"].isin(sorted(lines - own)).to_numpy(bool)
            if rest.any():
                value = rows["deviation"].to_numpy(float)[rest]
                common = float(np.median(value))
                u = 1.2533 * float(np.sqrt(np.mean(rows["u_random"].to_numpy(float)[rest] ** 2) / rest.sum()))
                if abs(common) >= self.slight * float(np.median(rows["limit"].to_numpy(float)[rest])):
                    names = sorted(set(rows["subject"][rest]))
                    made += [{"line": line, "check": check, "shift": common, "u": u} for line in names]
        return conform("older_designs", pd.DataFrame(made).assign(source=file, reason="older-design"))


def _numbers(layers: Layers, check: Any) -> pd.DataFrame:
    """Numbers that can be judged, with the nearer limit, the session and the direction of the line."""
    rows = along_lines(layers, check.name)
    rows = rows[(rows["why"] == 0) & rows[["deviation", "u_common", "u_random"]].notna().all(axis=1)]
    rows = asked(with_limits(rows.reset_index(drop=True), layers["limits"], check=check))
    rows = nearer_limit(rows, layers["limits"])
    rows["session"] = sessions(layers["shots"]).take(rows["row"].to_numpy()).to_numpy()
    chosen = layers["line_matches"]
    chosen = chosen[chosen["chosen"]].drop_duplicates("shot_key")
    azimuth = np.append(chosen["azimuth"].to_numpy(float), np.nan)[rows_of(rows["shot"], chosen["shot_key"])]
    return rows.assign(azimuth=azimuth if check is OFFSET else np.nan)


def _shift(seen: Missed | None) -> dict[str, float]:
    if seen is None:
        return {}
    found = seen.found
    east, north = found.moved.tolist()
    return {"shift": found.shift, "shift_easting": east, "shift_northing": north, "u": found.u}


def _out(layers: Layers, numbers: dict[str, pd.DataFrame], held: pd.DataFrame) -> int:
    """How many of the numbers that wait are out as read."""
    count = 0
    for check in CHECKS:
        rows = _of_lines(numbers[check.name], held, check.name)
        if len(rows):
            rows = rows.assign(limit=rows["place"])
            count += int((verdicts_of(rows, check=check, limits=layers["limits"]) == "OUT").sum())
    return count


def _of_lines(rows: pd.DataFrame, held: pd.DataFrame, check: str) -> pd.DataFrame:
    return rows[rows["subject"].isin(held.loc[held["check"] == check, "line"])].reset_index(drop=True)


def _waiting(numbers: dict[str, pd.DataFrame], held: pd.DataFrame) -> pd.DataFrame:
    mine = [_of_lines(numbers[check.name], held, check.name) for check in CHECKS]
    return pd.concat(mine, ignore_index=True)


def _fact(file: str, missed: dict[str, Missed], said: dict[Any, Any], out: int, variant: str) -> dict[str, Any]:
    """The matter in numbers."""
    across, high = (missed.get(check.name) for check in CHECKS)
    names = sorted({str(name) for each in missed.values() for name in each.rows["subject"][each.mine]})
    more = f" and {many(len(names) - NAMES, 'more line')}" if len(names) > NAMES else ""
    have = sorted({name for each in missed.values() for name in each.sessions})
    plan = across is not None and not np.isfinite(across.found.shift)
    alone = not all(each.others for each in missed.values())
    shots = pd.concat([each.rows["shot"][each.mine] for each in missed.values()]).nunique()
    return {
        "note": "older-design", "variant": f"{variant}{' plan' if plan else ''}", "subject": file,
        "number": np.nan if across is None else across.found.shift,
        "second": np.nan if high is None else high.found.shift,
        "third": float(np.hypot(*across.found.moved)) if plan and across is not None else np.nan,
        "unit": "job", "count": int(shots), "total": out, "session": listed(have), "limit": float(alone),
        "place": (", ".join(names[:NAMES]) if more else listed(names)) + more, "written": said.get("known"),
        "other": said.get("newer"), "proposal": _remedy(file, said) if said else None,
    }  # fmt: skip


def _remedy(file: str, said: dict[Any, Any]) -> str:
    return f"ask for {said['wanted']}, put it in place of {file} and run again"


def _finding(
    layers: Layers, file: str, fact: dict[str, Any], numbers: dict[str, pd.DataFrame], held: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The one matter that the numbers against the file make, and their shots."""
    shots = _waiting(numbers, held)
    keys, first = sorted(set(shots["shot"])), shots.iloc[0]
    count = float(len(shots))
    seen = Fact(**{name: value for name, value in fact.items() if name != "note" and value is not None})
    row = {
        "kind": "design", "subject": file, "source": file,
        "label": f"Design file {file} is older than the register, {many(int(count), 'number')} against its lines",
        "easting": first["easting"], "northing": first["northing"], "elevation": first["elevation"],
        "design": 0.0, "measured": count, "deviation": count, "u_common": 0.0, "u_random": 0.0,
        "lower": -np.inf, "upper": 0.0, "rule": "guarded", "limit": -1, "why": 0,
        "reference": "no number may be held against a superseded design",
        "cause": f"{fact['written']} is older than {fact['other']}; {many(fact['total'], 'number is', 'numbers are')} "
        f"out as read, and the {many(fact['count'], 'shot')} along {fact['place']} share one shift: "
        f"{shared_misses(seen, layers.frame.unit.name)}",
        "remedy": fact["proposal"],
    }  # fmt: skip
    made = pd.DataFrame([row]).assign(shot=taken([], np.full(1, -1)))
    findings = findings_of(made, check=OLDER_DESIGN, limits=layers["limits"], unit=layers.frame.unit.name, keys=[keys])
    return findings, evidence_of([findings["finding"].iloc[0]] * len(keys), keys, role="shot", layer="shots")
