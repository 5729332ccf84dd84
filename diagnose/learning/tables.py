"""Cases as a long table, one row an item, for spreadsheets and data frames: CSV and Parquet through pandas.

Columns: `case`, `epoch`, `item` (what the row says), `id`, `value`, `confidence`, `reading`, `unit`, `code`,
`text`; all of them texts, "" where they say nothing. The rows of a case stand together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any

from diagnose.errors import CallError, DataError, Place, Problem
from diagnose.learning.jsonl import Json, NoLesson, from_dict, to_dict
from diagnose.learning.lesson import Lesson

COLUMNS = ("case", "epoch", "item", "id", "value", "confidence", "reading", "unit", "code", "text")
FORM = f"the columns are {', '.join(COLUMNS)}, as `diagnose learn export` writes them"
ROWS = 50_000
"""Rows of a table that are held at a time."""

_LISTS = {"code not used": "codes_not_used", "came in for": "came_in_for"}
"""Item -> the list of a case that it is of."""

Row = dict[str, str]


def rows_of(lesson: Lesson) -> Iterator[Row]:
    """The rows of one case."""
    values = to_dict(lesson)
    machine, outcome = values.get("machine", {}), values.get("outcome")
    for name in ("complaint", "opened", "knowledge"):
        yield from _some(item="case", id=name, value=values.get(name))
    for item, name in _LISTS.items():
        yield from (_row(item=item, id=id) for id in values.get(name, ()))
    for name in ("number", "family", "hours", "last_right"):
        yield from _some(item="machine", id=name, value=machine.get(name))
    yield from (_row(item="fact", id=fact, value=value) for fact, value in machine.get("facts", {}).items())
    yield from (
        _row(item="renewed", id=id, value=_plain(run)) for id, run in machine.get("renewed", {}).items()
    )
    for number, epoch in enumerate(values["epochs"]):
        yield from ({**row, "epoch": str(number)} for row in _epoch_rows(epoch))
    if outcome is not None:
        yield _row(item="closed", value=outcome.get("closed", ""))
        yield from (_row(item="found", id=one["cause"], value=one["confirmed"]) for one in outcome["causes"])
        yield from _some(item="proven", value="yes" if outcome.get("proven") else None)


def _epoch_rows(epoch: Json) -> Iterator[Row]:
    yield _row(item="epoch")
    for item, name in (("repair", "repairs"), ("covers", "causes"), ("check", "checks")):
        yield from (_row(item=item, id=id) for id in epoch.get(name, ()))
    for seen in epoch.get("seen", ()):
        yield _row(
            item="seen",
            id=seen["finding"],
            value=seen["state"],
            confidence=seen.get("confidence", ""),
            reading=_plain(seen["value"]) if "value" in seen else "",
            **{name: seen.get(name, "") for name in ("unit", "code", "text")},
        )


def _some(item: str, value: Any, id: str = "") -> Iterator[Row]:
    if value not in (None, ""):
        yield _row(item=item, id=id, value=_plain(value))


_FORMULA = ("=", "+", "-", "@", "'")
"""What a spreadsheet takes for a formula where a cell starts with it, and the mark that takes it for text."""


def guarded(cell: str) -> str:
    """The cell as text to a spreadsheet; a number stays one. `unguarded` takes the mark away again."""
    return f"'{cell}" if cell.startswith(_FORMULA) and not _is_number(cell) else cell


def unguarded(cell: str) -> str:
    """The cell without the mark that `guarded` gave it."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in _FORMULA else cell


def _is_number(cell: str) -> bool:
    try:
        return bool(float(cell) or True)
    except ValueError:
        return False


def _row(**given: str) -> Row:
    """A row; what no table can hold (half a surrogate pair, NUL) is written as a question mark."""
    fit = {name: text.encode(errors="replace").decode().replace("\0", "?") for name, text in given.items()}
    return dict.fromkeys(COLUMNS, "") | fit


def _plain(value: Any) -> str:
    return repr(value) if isinstance(value, float) else str(value)


def lesson_of_rows(case: str, rows: Iterable[Mapping[str, str]]) -> Lesson:
    """The case of its rows. Raises NoLesson."""
    values: Json = {"case": case, "machine": {}, "epochs": []}
    for row in rows:
        if row["item"] not in _ITEMS:
            raise NoLesson(f"`{row['item']}` is no item of a case")
        _ITEMS[row["item"]](values, row)
    return from_dict(values)


def _of_epoch(values: Json, row: Mapping[str, str]) -> Json:
    if not row["epoch"].isdecimal() or int(row["epoch"]) > len(values["epochs"]):
        raise NoLesson(f"epoch `{row['epoch']}` does not follow the one before")
    if int(row["epoch"]) == len(values["epochs"]):
        values["epochs"].append({})
    epoch: Json = values["epochs"][int(row["epoch"])]
    return epoch


def _listed_above(name: str) -> Callable[[Json, Mapping[str, str]], None]:
    return lambda values, row: values.setdefault(name, []).append(row["id"])


def _listed(name: str) -> Callable[[Json, Mapping[str, str]], None]:
    return lambda values, row: _of_epoch(values, row).setdefault(name, []).append(row["id"])


def _seen(values: Json, row: Mapping[str, str]) -> None:
    given = {name: row[name] for name in ("confidence", "unit", "code", "text") if row[name]}
    reading = {"value": _number(row["reading"])} if row["reading"] else {}
    seen = {"finding": row["id"], "state": row["value"]} | given | reading
    _of_epoch(values, row).setdefault("seen", []).append(seen)


def _machine(values: Json, row: Mapping[str, str]) -> None:
    hours = row["id"] in ("hours", "last_right")
    values["machine"][row["id"]] = _number(row["value"]) if hours else row["value"]


def _part(name: str, number: bool = False) -> Callable[[Json, Mapping[str, str]], None]:
    def put(values: Json, row: Mapping[str, str]) -> None:
        values["machine"].setdefault(name, {})[row["id"]] = _number(row["value"]) if number else row["value"]

    return put


def _outcome(values: Json) -> Json:
    outcome: Json = values.setdefault("outcome", {"causes": []})
    return outcome


def _found(values: Json, row: Mapping[str, str]) -> None:
    _outcome(values)["causes"].append(
        {"cause": row["id"]} | ({"confirmed": row["value"]} if row["value"] else {})
    )


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise NoLesson(f"`{text}` is not a number") from None


_ITEMS: dict[str, Callable[[Json, Mapping[str, str]], Any]] = {
    "case": lambda values, row: values.__setitem__(row["id"], row["value"]),
    **{item: _listed_above(name) for item, name in _LISTS.items()},
    "machine": _machine,
    "fact": _part("facts"),
    "renewed": _part("renewed", number=True),
    "epoch": _of_epoch,
    "repair": _listed("repairs"),
    "covers": _listed("causes"),
    "check": _listed("checks"),
    "seen": _seen,
    "closed": lambda values, row: _outcome(values).__setitem__("closed", row["value"]),
    "found": _found,
    "proven": lambda values, row: _outcome(values).__setitem__("proven", row["value"] == "yes"),
}


def read_table(path: Path) -> Iterator[Lesson]:
    """The cases of a CSV or Parquet file, a piece of the file at a time. Raises DataError, and CallError
    where a library is missing."""
    place, done = 1, set[str]()
    problems: list[Problem] = []
    for case, rows in groupby(_rows(path), key=lambda row: row["case"]):
        every = list(rows)
        try:
            if case in done:
                raise NoLesson(f"the rows of case `{case}` do not stand together")
            done.add(case)
            yield lesson_of_rows(case, every)
        except NoLesson as error:
            problems.append(
                Problem("L001", Place(str(path), place + 1), f"case {case}: {error}", "see docs/learning.md")
            )
        place += len(every)
    if problems:
        raise DataError(problems)


def _rows(path: Path) -> Iterator[Row]:
    for frame in _frames(path):
        missing = [name for name in ("case", "epoch", "item", "id", "value") if name not in frame.columns]
        if missing:
            message = f"this is no table of cases: there is no column `{missing[0]}`"
            raise DataError([Problem("L002", Place(str(path), 1), message, FORM)])
        for name in COLUMNS:
            if name not in frame.columns:
                frame[name] = ""
        yield from frame[list(COLUMNS)].fillna("").astype(str).to_dict("records")


def _frames(path: Path) -> Iterator[Any]:
    """Data frames of ROWS rows."""
    pandas = needed("pandas")
    try:
        if path.suffix == ".csv":
            with path.open("rb") as file:  # pandas leaves a file open where its head cannot be read
                for frame in pandas.read_csv(file, dtype=str, keep_default_na=False, chunksize=ROWS):
                    yield frame.map(unguarded)
        else:
            needed("pyarrow")
            from pyarrow.parquet import ParquetFile

            for batch in ParquetFile(path).iter_batches(ROWS):
                yield batch.to_pandas()
    except (ValueError, OSError) as error:  # the libraries' own errors are ValueErrors
        raise DataError(
            [Problem("L002", Place(str(path)), f"cannot be read as a table: {error}", FORM)]
        ) from error


def write_table(path: Path, lessons: Iterable[Lesson]) -> int:
    """Write the cases, a piece at a time; how many. Raises CallError where a library is missing."""
    frames = _pieces(needed("pandas"), lessons)
    return _write_csv(path, frames) if path.suffix == ".csv" else _write_parquet(path, frames)


def _pieces(pandas: Any, lessons: Iterable[Lesson]) -> Iterator[tuple[Any, int]]:
    """Data frames, at least one, and how many cases each holds."""
    rows: list[Row] = []
    cases = 0
    for lesson in lessons:
        rows.extend(row | {"case": lesson.case} for row in rows_of(lesson))
        cases += 1
        if len(rows) >= ROWS:
            yield pandas.DataFrame(rows, columns=COLUMNS), cases
            rows, cases = [], 0
    yield pandas.DataFrame(rows, columns=COLUMNS, dtype=str), cases


def _write_csv(path: Path, frames: Iterable[tuple[Any, int]]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        for number, (frame, cases) in enumerate(frames):
            frame.map(guarded).to_csv(file, header=number == 0, index=False)
            count += cases
    return count


def _write_parquet(path: Path, frames: Iterable[tuple[Any, int]]) -> int:
    pyarrow = needed("pyarrow")
    from pyarrow.parquet import ParquetWriter

    schema = pyarrow.schema([(name, pyarrow.string()) for name in COLUMNS])
    count = 0
    with ParquetWriter(path, schema) as writer:
        for frame, cases in frames:
            writer.write_table(pyarrow.Table.from_pandas(frame, schema, preserve_index=False))
            count += cases
    return count


def needed(library: str) -> Any:
    """The library. Raises CallError with how to install it."""
    from importlib import import_module

    try:
        return import_module(library)
    except ModuleNotFoundError as error:
        raise CallError(f"Tables need {library}: pip install 'diesel-diagnose[tables]'") from error
