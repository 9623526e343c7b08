"""Notes on surfaces in sentences."""

from geoqa.model import words
from geoqa.model.tables.fact import Fact


def asbuilt_surface(fact: Fact, unit: str) -> str:
    """What the surface of the shots was made of, and what is no part of it."""
    used, total = fact.count or 0, fact.total or 0
    made = words.many(int(fact.number), "face")
    of = f"{used} of {words.many(total, 'shot')}" if used < total else words.many(used, "shot")
    lines = words.many(int(fact.second), "breakline")
    edge = words.quantity(fact.limit, "length", unit, digits=1)
    of_another = "at the place of another one" + ", or on a line that was shot before" * (fact.variant == "passes")
    left = [
        f"{words.many(count, one, more)} {said}"
        for count, one, more, said in (
            (int(fact.fourth), "shot lies", "shots lie", of_another),
            (total - used - int(fact.fourth), "shot is", "shots are", "not in use or wait for a blunder"),
            (int(fact.third), "breakline crosses", "breaklines cross", "another one"),
        )
        if count
    ]
    aside = f" Not taken: {'; '.join(left)}." if left else ""
    return f"As-built surface: {made} from {of} and {lines}; faces with an edge over {edge} are left out.{aside}"
