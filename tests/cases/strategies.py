"""Random events and histories. Numbers as the store would give them: 1, 2, 3, ..."""

from dataclasses import replace

from hypothesis import settings
from hypothesis import strategies as st

from diagnose.cases.events import (
    CONFIDENCES,
    CONFIRMED,
    WAITING,
    Checked,
    Closed,
    Coded,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Waits,
    Withdrawn,
)

# The same examples in every run, however busy the machine is.
calm = settings(deadline=None, derandomize=True)

# Few ids, so that findings, codes and checks meet again; any text, lone surrogates and NUL too.
ids = st.sampled_from(["a", "b", "c"])
some_ids = st.lists(ids, max_size=2).map(tuple)
texts = st.text(st.characters(), max_size=8)
numbers = st.floats(allow_nan=False, allow_infinity=False)
maybe_numbers = st.none() | numbers
facts = st.dictionaries(ids, texts, max_size=2)
hours = st.dictionaries(ids, numbers, max_size=2)
confirmed = st.dictionaries(ids, st.sampled_from(CONFIRMED), max_size=2)

opened = st.builds(Opened, texts, ids, facts, maybe_numbers, hours, texts)
acts: st.SearchStrategy[Event] = st.one_of(
    st.builds(Noted, ids, ids, st.sampled_from(CONFIDENCES), texts, maybe_numbers, texts, texts),
    st.builds(Measured, ids, numbers, texts, st.sampled_from(CONFIDENCES), texts),
    st.builds(Coded, ids, texts),
    st.builds(Checked, ids | st.just("prove:a:1"), texts | st.just("later")),
    st.builds(OpenedUp, ids, texts),
    st.builds(Repaired, some_ids, some_ids, some_ids, texts),
    st.builds(Learnt, facts, maybe_numbers, hours, texts),
    st.builds(Closed, some_ids, st.sampled_from(CONFIRMED), st.booleans(), texts, confirmed),
    st.builds(Reopened, texts, st.booleans()),
    st.builds(Waits, st.sampled_from(WAITING), texts),
)


@st.composite
def histories(draw: st.DrawFn) -> tuple[Event, ...]:
    """An opening and what follows, withdrawals of any earlier event among it."""
    events: list[Event] = [replace(draw(opened), sequence=1)]
    for sequence in range(2, draw(st.integers(1, 12)) + 1):
        withdrawal = st.builds(Withdrawn, st.integers(1, sequence - 1), texts)
        events.append(replace(draw(acts | withdrawal), sequence=sequence, by=draw(st.just("") | texts)))
    return tuple(events)
