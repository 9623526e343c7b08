"""Decisions that come back are applied: what holds is kept beside the job, what does not is refused with its reason."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from geoqa.errors import JobError, SourceError
from geoqa.job.decided import Change, Entry, Opinion, Register, by_item, read_register, settled, write_register
from geoqa.job.document.load import LoadedJob
from geoqa.job.inputs.unframed import load_framed
from geoqa.review.changed_design import put_changes
from geoqa.review.decision_file import DecisionFile, read_decision_file
from geoqa.review.listed import Listed, listed


@dataclass(frozen=True, kw_only=True)
class Refused:
    """What was not applied, and why.

    Attributes
    ----------
    file : str
    item : str
        Empty where the whole file is refused.
    why : str
    """

    file: str
    item: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Decided:
    """What a call did, and where the job stands after it.

    Attributes
    ----------
    applied : tuple of Opinion
        Newly kept.
    again : int
        Decisions that were kept already.
    refused : tuple of Refused
    conflicts : tuple of tuple of Opinion
        Items on which reviewers disagree, of this call or an earlier one; none of them holds.
    standing : tuple of Opinion
        What holds now, one an item.
    changed : tuple of str
        Files of changed design that were written.
    lacking : tuple of str
        Field changes that say no coordinates: items whose changed design somebody must draw.
    """

    applied: tuple[Opinion, ...] = ()
    again: int = 0
    refused: tuple[Refused, ...] = ()
    conflicts: tuple[tuple[Opinion, ...], ...] = ()
    standing: tuple[Opinion, ...] = ()
    changed: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()


@dataclass
class _Book:
    """The register while files are laid into it."""

    opinions: dict[tuple[str, str, str], tuple[Opinion, str]] = field(default_factory=dict)
    applied: list[Opinion] = field(default_factory=list)
    again: int = 0
    refused: list[Refused] = field(default_factory=list)
    log: list[Entry] = field(default_factory=list)


def decide(job: str | Path, files: Sequence[Path], *, now: datetime.datetime | None = None) -> Decided:
    """Apply files of decisions to a job.

    Parameters
    ----------
    job : path of a job file
    files : sequence of Path
        As the map saved them; their order decides nothing.
    now : datetime or None
        For the log; None is the clock.

    Returns
    -------
    Decided

    Raises
    ------
    JobError, OutputError
        The job or its register cannot be read, or it has not been run.
    """
    loaded = load_framed(job)
    there = listed(loaded)
    before = read_register(loaded.path)
    at = _moment(now)
    book = _Book(opinions={_key(each): (each, "") for each in before.opinions})
    for opinion, file in _opinions(files, there, loaded, book, at):
        _lay(book, opinion, file, there, at)
    register = before.model_copy(
        update={"opinions": _ordered(book), "log": (*before.log, *sorted(book.log, key=_of_log))}
    )
    register, changed, lacking = put_changes(loaded, register, there)
    if register != before:
        write_register(loaded.path, register)
        _withdraw(loaded.path, before, register)
    return _outcome(book, register, there, changed, lacking)


def take_back(job: str | Path, item: str, *, by: str = "", now: datetime.datetime | None = None) -> tuple[Opinion, ...]:
    """Undo what was decided on an item.

    Parameters
    ----------
    job : path of a job file
    item : str
        Its number.
    by : str
        Only what this reviewer said; empty is all, with the changed design.
    now : datetime or None
        For the log; None is the clock.

    Returns
    -------
    tuple of Opinion
        What was taken back.

    Raises
    ------
    JobError
        Nothing was decided on it.
    """
    # without the changed design of the register: a file of it that is lost must not bar the way
    path = Path(job).resolve()
    before = read_register(path)
    who = " ".join(by.casefold().split())
    gone = tuple(each for each in before.opinions if each.item == item and (not who or each.who == who))
    if not gone:
        raise JobError(
            f"Nothing was decided on item {item}{f' by {by}' if by else ''}. Decided on are items: "
            f"{', '.join(sorted({each.item for each in before.opinions}, key=int)) or 'none'}."
        )
    kept = tuple(each for each in before.opinions if each not in gone)
    left = any(each.item == item and each.decision == "field-change" for each in kept)
    changes = tuple(each for each in before.changes if each.item != item or left)
    log = [_entry("taken back", each, at=_moment(now)) for each in gone]
    register = before.model_copy(update={"opinions": kept, "changes": changes, "log": (*before.log, *log)})
    write_register(path, register)
    _withdraw(path, before, register)
    return gone


def _withdraw(job: Path, before: Register, register: Register) -> None:
    """Remove files of changed design that the register, as it is written now, no longer names."""
    for name in {each.file for each in before.changes} - {each.file for each in register.changes}:
        (job.parent / name).unlink(missing_ok=True)


def _opinions(
    files: Iterable[Path], there: Listed, loaded: LoadedJob, book: _Book, at: str
) -> list[tuple[Opinion, DecisionFile]]:
    """Every opinion of every file that is of this job, in an order that is not that of the files."""
    found = []
    for path in files:
        try:
            file = read_decision_file(path)
            if file.run not in there.runs:
                raise SourceError(_foreign(file, loaded, there))
        except SourceError as error:
            book.refused.append(Refused(file=path.name, item="", why=str(error)))
            book.log.append(Entry(at=at, did="refused", file=path.name[:200], why=str(error)[:1000]))
            continue
        found += [(opinion, file) for opinion in file.opinions]
    return sorted(found, key=lambda each: (int(each[0].item), each[0].when, each[0].who, each[1].sha256))


def _foreign(file: DecisionFile, loaded: LoadedJob, there: Listed) -> str:
    if file.job.name != loaded.job.job.name:
        return (
            f"{file.name} is of another job, '{file.job.name}' ({file.job.file}); this one is "
            f"'{loaded.job.job.name}'. Nothing of it was applied."
        )
    return (
        f"{file.name} is of a run that {there.folder} does not know: of another copy of this job, or its record was "
        "deleted since. Send the map of that folder, and decide on it."
    )


def _lay(book: _Book, opinion: Opinion, file: DecisionFile, there: Listed, at: str) -> None:
    """Keep one opinion, or say why not."""
    # what it was about is told by the record, not by a file that came from outside
    why = there.why_not(opinion)
    opinion = opinion if why else opinion.model_copy(update={"told": there.told(opinion.item)})
    key = _key(opinion)
    held, of = book.opinions.get(key, (None, ""))
    if not why and held is not None:
        if held == opinion:
            book.again += 1
            return
        if held.when > opinion.when:
            why = f"{opinion.by} decided later on the same item ({held.decision}, {held.when})"
        elif held.when == opinion.when and held.meant != opinion.meant:
            why = f"the same reviewer says {held.decision} and {opinion.decision} at the same moment"
            if of:  # of this call: which of the two was meant is not for the order of files to say
                del book.opinions[key]
                book.applied.remove(held)
                book.refused.append(Refused(file=of, item=held.item, why=why))
    if why:
        book.refused.append(Refused(file=file.name, item=opinion.item, why=why))
        book.log.append(_entry("refused", opinion, at=at, file=file, why=why))
        return
    if held is not None and held in book.applied:
        book.applied.remove(held)
    book.opinions[key] = (opinion, file.name)
    book.applied.append(opinion)
    book.log.append(_entry("applied", opinion, at=at, file=file))


def _key(opinion: Opinion) -> tuple[str, str, str]:
    return opinion.item, opinion.seen, opinion.who


def _ordered(book: _Book) -> tuple[Opinion, ...]:
    return tuple(
        each
        for each, _ in sorted(book.opinions.values(), key=lambda pair: (int(pair[0].item), pair[0].seen, pair[0].who))
    )


def _of_log(entry: Entry) -> tuple[str, str, str, str]:
    return entry.did, entry.item.rjust(8), entry.by, entry.file


def _entry(did: str, opinion: Opinion, *, at: str, file: DecisionFile | None = None, why: str = "") -> Entry:
    name, digest = (file.name[:200], file.sha256) if file is not None else ("", "")
    return Entry.model_validate(
        {"at": at, "did": did, "item": opinion.item, "decision": opinion.decision, "by": opinion.by,
         "when": opinion.when, "note": opinion.note, "file": name, "sha256": digest, "why": why}
    )  # fmt: skip


def _moment(now: datetime.datetime | None) -> str:
    return (now or datetime.datetime.now(datetime.UTC)).astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _outcome(
    book: _Book, register: Register, there: Listed, changed: tuple[Change, ...], lacking: tuple[str, ...]
) -> Decided:
    groups = [mine for (item, seen), mine in by_item(register.opinions).items() if there.holds(item, seen)]
    return Decided(
        applied=tuple(book.applied),
        again=book.again,
        refused=tuple(book.refused),
        conflicts=tuple(tuple(mine) for mine in groups if not settled(mine)),
        standing=tuple(max(mine, key=lambda each: each.when) for mine in groups if settled(mine)),
        changed=tuple(each.file for each in changed),
        lacking=lacking,
    )
