"""Code, line and note that a crew writes into one field: taken apart by the code list and the names of the marks."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from geoqa.frames.files.reading import FileAsRead
from geoqa.job.document.file import Job
from geoqa.model.check import CONTROL
from geoqa.model.source import Evidence
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

USUAL = ("code", "line", "note")
"""The order that is tried where the job states none."""
CHECK_WORDS = ("CK", "CHK", "CHECK", "CHKPT", "CKPT")
"""Words that before the name of a mark say that it was checked."""
_NUMBERED = re.compile(r"(?P<code>.*?[^\d_.-])[-_.]?(?P<line>\d+)")
_EXAMPLES = 3
_LISTED = 30
Patterns = Mapping[str, tuple[Sequence[str], Sequence[str]]]
"""Parts and control words of the descriptions of each file of shots whose job states them, by the file's key."""


@dataclass(frozen=True)
class Split:
    """What one description becomes; `trouble` says why it stays as it is written.

    Its control words are the beginning of the note, and stand in `word` too.
    """

    written: str
    code: str
    line: str = ""
    note: str = ""
    word: str = ""
    known: bool = False
    check: bool = False
    proposal: str = ""
    trouble: str = ""


@dataclass(frozen=True)
class Preview:
    """One code that descriptions would become.

    Attributes
    ----------
    code : str
    known : bool
        It is in the code list, or the word of a check on a mark.
    shots : int
    lines : tuple of str
        Line numbers, in order; of a code of points the numbers of the things, of a check word the marks.
    called : str
        What one of them is: line, number or mark.
    examples : tuple of str
        Descriptions as written, with what each becomes.
    proposal : str
        Of an unknown code: the known one most like it, if any.
    """

    code: str
    known: bool
    shots: int
    lines: tuple[str, ...]
    examples: tuple[str, ...]
    proposal: str
    called: str = "line"

    def __str__(self) -> str:
        known = (
            ""
            if self.known
            else f", not in the code list{f'; did the crew mean {self.proposal}?' * bool(self.proposal)}"
        )
        lines = f", {many(len(self.lines), self.called)} ({', '.join(self.lines[:5])}{' …' * (len(self.lines) > 5)})"
        return (
            f"{self.code}: {many(self.shots, 'shot')}{lines * bool(self.lines)}{known}; e.g. {'; '.join(self.examples)}"
        )


@dataclass(frozen=True)
class Splitter:
    """How descriptions are taken apart.

    Attributes
    ----------
    codes : mapping of str to (geometry, role)
        The code list; empty where there is none.
    marks : tuple of str
        Names of the control marks.
    pattern : tuple of str
        Of `geoqa.job.document.file.PARTS`, in the order in which they stand.
    words : tuple of str
        Control words, such as those that begin and end a line; they stay in the note, and in the column `line_word`.
    """

    codes: Mapping[str, tuple[str, str]]
    marks: tuple[str, ...] = ()
    pattern: tuple[str, ...] = USUAL
    words: tuple[str, ...] = ()

    def split(self, written: str) -> Split:
        """Take one description apart.

        Examples
        --------
        >>> by = Splitter({"SWF": ("line", "feature"), "MH": ("point", "feature")}, marks=("CP101",))
        >>> [(one.code, one.line, one.note) for one in map(by.split, ("SWF2 12 cracked", "SWF 12", "MH 12 in. pipe"))]
        [('SWF', '2', '12 cracked'), ('SWF', '12', ''), ('MH', '', '12 in. pipe')]
        >>> [by.split(each).line for each in ("CK CP101", "CKCP101", "CP-101 CHK")]
        ['CP101', 'CP101', 'CP101']
        """
        text = " ".join(written.split())
        if text in self.codes:
            return Split(written, text, known=True)
        check = self._check(written, text)
        if check is not None:
            return check
        head, *rest = text.split(" ")
        head = head.rstrip(",;:") or head
        readings = self._readings(head)
        if len(readings) > 1:
            both = " or ".join(f"{code} line {line}" if line else code for code, line in readings)
            return Split(written, text, trouble=f"can be {both}")
        if not readings:
            return self._unknown(written, head, rest)
        code, line = readings[0]
        return self._rest(Split(written, code, line, known=True), rest)

    def called(self, split: Split) -> str:
        """What the number behind a code is: of a line, of the thing itself where the code is of points, or a mark.

        Examples
        --------
        >>> by = Splitter({"WV": ("point", "feature")})
        >>> one = by.split("WV2 stuck")
        >>> one.code, by.called(one), one.line, one.note
        ('WV', 'number', '2', 'stuck')
        """
        if split.check:
            return "mark"
        return "number" if self.codes.get(split.code, ("", ""))[0] == "point" else "line"

    def _readings(self, head: str) -> list[tuple[str, str]]:
        """Code and line number that a first word can be: whole, or with its last figures as a number."""
        if not self.codes:
            match = _NUMBERED.fullmatch(head)
            return [(match["code"], match["line"])] if match and "line" in self.pattern else [(head, "")]
        if head in self.codes:
            return [(head, "")]
        if "line" not in self.pattern:
            return []
        cuts = [at for at in range(1, len(head)) if head[at:].isdecimal()]
        found = [(head[:at].rstrip("-_."), head[at:]) for at in cuts]
        return [(code, line) for code, line in dict.fromkeys(found) if code in self.codes]

    def _rest(self, split: Split, rest: list[str]) -> Split:
        """The words after the code: a number of a line that has none yet, a control word, and the note."""
        line, before = split.line, []
        numbered = not self.codes or self.codes[split.code][0] == "line"
        for part in self.pattern[1:]:
            if part == "line" and not line and numbered and rest and rest[0].isdecimal():
                line = rest.pop(0)
            while part == "word" and rest and rest[0].casefold() in {each.casefold() for each in self.words}:
                before.append(rest.pop(0))
        return replace(split, line=line, note=" ".join((*before, *rest)), word=" ".join(before))

    def _check(self, written: str, text: str) -> Split | None:
        """A check word and the name of a mark, in either order or in one word, whatever follows."""
        words = text.split(" ")
        for count in range(len(words) - 1, 0, -1):
            before, after = " ".join(words[:count]), " ".join(words[1 : count + 1])
            if self._is_check_word(words[0]) and (mark := self._mark(after)):
                return Split(written, words[0], mark, " ".join(words[count + 1 :]), known=True, check=True)
            if self._is_check_word(words[count]) and (mark := self._mark(before)):
                return Split(written, words[count], mark, " ".join(words[count + 1 :]), known=True, check=True)
        return self._check_in_one(written, words[0], words[1:])

    def _check_in_one(self, written: str, head: str, rest: list[str]) -> Split | None:
        """A check word and the name of a mark without a blank, where the word is no code of the list with a number."""
        if self.codes and self._readings(head):
            return None
        for at in range(len(head) - 1, 1, -1):
            if self._is_check_word(head[:at]) and (mark := self._mark(head[at:])):
                return Split(written, head[:at], mark, " ".join(rest), known=True, check=True)
        return None

    def _is_check_word(self, word: str) -> bool:
        role = self.codes.get(word, ("", ""))[1]
        return role == "check" or (not role and word.upper() in CHECK_WORDS)

    def _mark(self, name: str) -> str:
        """The mark of a name, written with or without its dashes; nothing where two marks could be meant."""
        if name in self.marks:
            return name
        alike = [mark for mark in self.marks if _bare(mark) == _bare(name)]
        return alike[0] if len(alike) == 1 and _bare(name) else ""

    def _unknown(self, written: str, head: str, rest: list[str]) -> Split:
        match = _NUMBERED.fullmatch(head)
        stem = match["code"] if match else head
        alike = [code for code in self.codes if code.casefold() == stem.casefold()]
        near = alike or get_close_matches(stem, sorted(self.codes), n=1, cutoff=0.5)
        return Split(written, head, note=" ".join(rest), proposal=near[0] if near else "")


def splitter(
    codes: "pd.DataFrame | None",
    control: "pd.DataFrame | None",
    *,
    pattern: Sequence[str] = USUAL,
    words: Sequence[str] = (),
) -> Splitter:
    """How descriptions are taken apart by a code list and a list of marks, either of which may be missing."""
    known = {}
    if codes is not None:
        rows = codes[["code", "geometry", "role"]].astype("str").itertuples(index=False)
        known = {code.strip(): (geometry, role) for code, geometry, role in rows}
    marks = () if control is None else tuple(control["mark"].dropna().astype("str"))
    return Splitter(known, marks, tuple(pattern), tuple(words))


def previews(descriptions: Iterable[str], by: Splitter) -> tuple[Preview, ...]:
    """What each code would become, most shots first, unknown ones behind the known.

    Parameters
    ----------
    descriptions : iterable of str
        The field of every shot, as written.
    by : Splitter

    Examples
    --------
    >>> by = Splitter({"SWF": ("line", "feature")})
    >>> [str(each) for each in previews(["SWF2 12 cracked", "SWF2", "SWX"], by)]
    ["SWF: 2 shots, 1 line (2); e.g. 'SWF2' = SWF line 2; 'SWF2 12 cracked' = SWF line 2, note '12 cracked'", \
"SWX: 1 shot, not in the code list; did the crew mean SWF?; e.g. 'SWX' = SWX"]
    """
    counts = Counter(descriptions)
    groups: dict[str, list[Split]] = {}
    for written in sorted(counts):
        split = by.split(written)
        groups.setdefault(split.code, []).append(split)
    made = [
        Preview(
            code=code,
            known=splits[0].known,
            shots=sum(counts[one.written] for one in splits),
            lines=tuple(sorted({one.line for one in splits if one.line}, key=lambda line: (len(line), line))),
            examples=tuple(_becomes(one, by.called(one)) for one in splits[:_EXAMPLES]),
            proposal=splits[0].proposal,
            called=by.called(splits[0]),
        )
        for code, splits in groups.items()
    ]
    return tuple(sorted(made, key=lambda each: (not each.known, -each.shots, each.code)))


def with_descriptions(files: Sequence[FileAsRead], patterns: Patterns) -> list[FileAsRead]:
    """Files whose shots have code, line and note apart, and whose code list knows the check words that were used.

    Parameters
    ----------
    files : sequence of FileAsRead
    patterns : mapping of str to (parts, control words)
        In files without one only check shots are found: a check word and the name of a mark, in a description that
        is no code by itself.
    """
    codes, control = (_table(files, role) for role in ("codes", "control"))
    used: set[str] = set()
    done = []
    for file in files:
        shots = file.source.layers.get("shots")
        if file.role != "shots" or shots is None or not shots["code"].notna().any():
            done.append(file)
            continue
        pattern, words = patterns.get(file.key, ((), ()))
        by = splitter(codes, control, pattern=pattern or USUAL, words=words)
        table, evidence, checks = _taken_apart(shots, by, only_checks=not pattern)
        used |= checks - by.codes.keys()
        source = replace(
            file.source, layers={**file.source.layers, "shots": table}, evidence=(*file.source.evidence, *evidence)
        )
        done.append(replace(file, source=source) if evidence else file)
    return [_with_check_words(file, used) if file.role == "codes" else file for file in done] if used else done


def patterns_of(job: Job) -> Patterns:
    """What a job states of the descriptions in its files of shots."""
    return {each.source: (each.description, each.line_words) for each in job.shots if each.description}


def _becomes(split: Split, called: str) -> str:
    line, note = f" {called} {split.line}" * bool(split.line), f", note '{split.note}'" * bool(split.note)
    return f"'{split.written}': {split.trouble}" if split.trouble else f"'{split.written}' = {split.code}{line}{note}"


def _taken_apart(
    shots: "pd.DataFrame", by: Splitter, *, only_checks: bool
) -> "tuple[pd.DataFrame, tuple[Evidence, ...], set[str]]":
    import pandas as pd

    place, written = pd.factorize(shots["code"])
    splits = [by.split(str(each)) for each in written]
    splits = [one if one.check or not only_checks else Split(one.written, one.written) for one in splits]
    changed = np.array([one.code != one.written or bool(one.line or one.note) for one in splits], dtype=bool)
    rows = np.flatnonzero((place >= 0) & changed[place]) if len(splits) else np.empty(0, dtype=np.int64)
    if not len(rows):
        return shots, (), set()
    table = shots.copy()
    for name, values in (("code", "code"), ("line_id", "line"), ("note", "note")):
        new = np.array([getattr(splits[place[row]], values) for row in rows], dtype=object)
        table[name] = _laid_in(table[name], rows, new, over=name == "code")
    if any(one.word for one in splits):
        new = np.array([splits[place[row]].word for row in rows], dtype=object)
        there = table["line_word"] if "line_word" in table else pd.Series(None, index=table.index, dtype="str")
        table["line_word"] = _laid_in(there, rows, new, over=False)
    evidence = tuple(_told(splits, place, only_checks=only_checks))
    return table, evidence, {one.code for one in splits if one.check}


def _laid_in(column: "pd.Series", rows: np.ndarray, new: np.ndarray, *, over: bool) -> "pd.Series":
    """New texts in some rows; a text that the file has already stays, a note behind the one of the description."""
    values = column.astype(object).where(column.notna(), None).to_numpy(copy=True)
    for row, text in zip(rows.tolist(), new.tolist(), strict=True):
        old = values[row]
        if over or not old:
            values[row] = text or None
        elif column.name == "note" and text:
            values[row] = f"{text}; {old}"
    import pandas as pd

    return pd.Series(values, index=column.index).astype("str")


def _told(splits: Sequence[Split], place: np.ndarray, *, only_checks: bool) -> Iterator[Evidence]:
    counts = np.bincount(place[place >= 0], minlength=len(splits))
    checks = [(one, int(count)) for one, count in zip(splits, counts, strict=True) if one.check]
    if checks:
        shots = sum(count for _, count in checks)
        marks = sorted({one.line for one, _ in checks})
        because = f"a check word and the name of a mark, e.g. '{checks[0][0].written}'"
        yield Evidence(what="check shots", answer=f"{shots} on {many(len(marks), 'mark')}", because=because)
    if only_checks:
        return
    lines = int(sum(count for one, count in zip(splits, counts, strict=True) if one.line and not one.check))
    notes = int(sum(count for one, count in zip(splits, counts, strict=True) if one.note))
    because = "description = in the job"
    yield Evidence(what="descriptions", answer=f"{lines} with a line number, {notes} with a note", because=because)
    for one, count in zip(splits, counts, strict=True):
        if one.trouble:
            yield Evidence(what=f"description '{one.written}'", answer=f"{count} left as written", because=one.trouble)


def _with_check_words(file: FileAsRead, used: set[str]) -> FileAsRead:
    """A code list that also knows the check words the crew used."""
    import pandas as pd

    from geoqa.model.tables.columns import conform

    codes = file.source.layers["codes"]
    kinds = codes.loc[codes["role"] == "check", "kind"]
    kind = str(kinds.iloc[0]) if len(kinds) else CONTROL
    rows = [{"code": word, "kind": kind, "geometry": "point", "role": "check"} for word in sorted(used)]
    table = pd.concat([codes, conform("codes", pd.DataFrame(rows))], ignore_index=True)
    because = "the crew writes it before names of marks; the code list does not have it"
    found = Evidence(what="check word", answer=", ".join(sorted(used)), because=because)
    source = replace(
        file.source, layers={**file.source.layers, "codes": table}, evidence=(*file.source.evidence, found)
    )
    return replace(file, source=source)


def description_lines(files: Sequence[FileAsRead], patterns: Patterns) -> tuple[str, ...]:
    """What `check` prints of descriptions: each code with counts and examples, and the line to add.

    A file most of whose codes are known as they stand gets no word, unless its job states a pattern.
    """
    codes, control = (_table(files, role) for role in ("codes", "control"))
    lines: list[str] = []
    for file in files:
        shots = file.source.layers.get("shots")
        if file.role != "shots" or shots is None or not shots["code"].notna().any():
            continue
        pattern, words = patterns.get(file.key, ((), ()))
        by = splitter(codes, control, pattern=pattern or USUAL, words=words)
        written = shots["code"].dropna().astype("str")
        if not pattern and not _helps(written, by):
            continue
        if not pattern:
            lines.append(f'{file.name}: with description = "{" ".join(USUAL)}" in its [[shots]], its codes would be:')
        said = [str(each) for each in previews(written, by)]
        lines += [f"{file.name}: {each}" for each in said[:_LISTED]]
        if len(said) > _LISTED:
            lines.append(f"{file.name}: and {many(len(said) - _LISTED, 'more code')}")
    return tuple(lines)


def _helps(written: "pd.Series", by: Splitter) -> bool:
    """Whether taking descriptions apart makes a tenth of the shots known that are not known as written."""
    if not by.codes:
        return False
    counts = Counter(written)
    unknown = [each for each in counts if each.strip() not in by.codes]
    known = sum(counts[each] for each in unknown if by.split(each).known)
    return 10 * known >= len(written) and known > 0


def _table(files: Sequence[FileAsRead], role: str) -> "pd.DataFrame | None":
    return next((file.source.layers[role] for file in files if role in file.source.layers), None)


def _bare(name: str) -> str:
    return re.sub(r"[\W_]+", "", name).casefold()
