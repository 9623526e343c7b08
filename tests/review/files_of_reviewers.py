"""Files of reviewers, written as the page of the map writes them."""

import json

from geoqa.contract.decisions import FILE_FORMAT, VERSION, check_value

MORNING, EVENING = "2026-05-20T09:00:00Z", "2026-05-20T18:00:00Z"


def record_of(job):
    return json.loads((job.parent / "out" / "record.json").read_text("utf-8"))


def item_of(job, subject):
    return next(row["item"] for row in record_of(job)["items"] if row["subject"] == subject)


def save(job, name, by, said, *, when=MORNING, facts=()):
    """A file in which `by` says of items, by subject or number, what `said` holds: decision, or decision and change."""
    record = record_of(job)
    rows = {row["subject"]: row for row in record["items"]} | {row["item"]: row for row in record["items"]}
    decisions = []
    for subject, (decision, change) in {key: (v, []) if isinstance(v, str) else v for key, v in said.items()}.items():
        row = rows[subject]
        decisions.append(
            {"item": row["item"], "findings": row["members"].split(";"), "seen": row["seen"], "told": row["told"],
             "decision": decision, "by": by, "when": when, "note": f"{by} on {subject}", "change": change}
        )  # fmt: skip
    whole = {"format": FILE_FORMAT, "version": VERSION, "job": {"name": "Four shots", "file": job.name},
             "run": record["run"], "decisions": decisions} | dict(facts)  # fmt: skip
    path = job.parent / name
    path.write_text(json.dumps(whole | {"check": check_value(whole)}, ensure_ascii=False), "utf-8")
    return path
