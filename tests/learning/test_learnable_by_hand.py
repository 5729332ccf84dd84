"""The vector of all that can be learnt, row by row, of a small knowledge."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import numpy as np
import pytest

from diagnose.knowledge.number import Number
from diagnose.learning.learnable import NumberRow, numbers_of
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge, number

SURE = Number(0.08, "judgement", 40, HERE)
WORN = replace(cause("worn", 0.08, {"low": [[0.7, 0.1]]}, per="rate"), frequency=SURE)


def test_every_number_has_its_cells_in_order() -> None:
    own = numbers_of(
        knowledge(
            cause("built_up", 0.3, {"level": [[0.5, 0.25]]}),
            WORN,
            condition("low", [0.1, 0.05], {"level": [[0.2, 0.1], [0.3, 0.6]]}, "no", "some", "much"),
            finding("level", [0.02, 0.0], "fine", "down", "gone"),
        )
    )  # fmt: skip
    kinds = [(row.kind, row.effect, row.parent, row.state) for row in own.rows]
    assert kinds == [
        ("prior", "built_up", "", 0), ("prior", "worn", "", 0),
        ("leak", "low", "", 0), ("leak", "level", "", 0),
        ("link", "level", "built_up", 1), ("link", "low", "worn", 1),
        ("link", "level", "low", 1), ("link", "level", "low", 2),
    ]  # fmt: skip
    happened = 1 - exp(-0.08e-3 * 500)
    cells = [
        0.7, 0.3, 1 - happened, happened, 0.85, 0.1, 0.05, 0.98, 0.02, 0,
        0.25, 0.5, 0.25, 0.2, 0.7, 0.1, 0.7, 0.2, 0.1, 0.1, 0.3, 0.6,
    ]  # fmt: skip
    assert own.values == pytest.approx(np.array(cells))
    assert own.start.tolist() == [0, 2, 4, 7, 10, 13, 16, 19, 22]
    assert own.row_of_cell.tolist() == [0, 0, 1, 1, *(row for row in range(2, 8) for _ in range(3))]
    assert (own.causes, own.happens.tolist()) == (("built_up", "worn"), [False, True])
    assert own.leak == {"low": 2, "level": 3}
    assert own.link == {("built_up", "level"): 4, ("worn", "low"): 5, ("low", "level"): 6}
    assert len(own.rates(own.values)) == 2
    assert own.rates(own.values)[1] == pytest.approx(0.08e-3 * 500)
    assert np.isfinite(own.rates(np.ones(22))).all()
    assert own.ess == pytest.approx(np.array([10, 40, 20, 50, 10, 10, 10, 10]))
    assert [row.ess for row in own.rows[:4]] == [10, 40, 10, 10]


def test_a_row_is_worth_meeting_its_rarest_cell_once() -> None:
    assert NumberRow("prior", "a", "", 0, (0.997, 0.003), 10).worth == pytest.approx(1 / 0.003)
    assert NumberRow("prior", "a", "", 0, (0.5, 0.5), 10).worth == 10
    assert NumberRow("leak", "a", "", 0, (1.0, 0.0), 0.5).worth == 1


def test_what_is_none_gives_no_size() -> None:
    """The size of a row is the mean of those of its cells that can be; of all, where none can."""
    sized = [
        Number(0.2, "judgement", 30, HERE),
        Number(0.0, "judgement", 2, HERE),
        Number(0.1, "judgement", 50, HERE),
    ]
    own = numbers_of(knowledge(replace(finding("level", [0.0] * 3, "a", "b", "c", "d"), leak=tuple(sized))))
    assert own.rows[0].ess == 40
    nothing = tuple(replace(number(0.0), ess=size) for size in (2, 4))
    own = numbers_of(knowledge(replace(finding("level", [0.0] * 2, "a", "b", "c"), leak=nothing)))
    assert own.rows[0].ess == 3
