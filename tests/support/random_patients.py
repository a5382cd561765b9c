"""Patients with any value that a log may hold."""

from datetime import UTC, date, datetime, timedelta

from hypothesis import strategies as st

from handoff.check.characters import unquoted
from handoff.check.parse import DITTO
from handoff.model.findings import Place
from handoff.model.ward import Order, Patient

NOWHERE = Place("")


# Text as the checks leave it: single spaces, nothing that cannot be printed or says nothing.
TEXT = st.text(st.characters(categories=["L", "N", "P", "S", "M"]), min_size=1, max_size=30).filter(
    lambda text: (
        any(map(str.isalnum, text))
        and text.casefold() not in DITTO
        and unquoted(text) == (text, None)
    )
)


MOMENTS = st.integers(0, 3_252_000).map(
    lambda minutes: datetime(2020, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
)


ML = st.floats(10, 6000) | st.integers(10, 6000).map(float)
DONE = st.none() | st.booleans() | MOMENTS


@st.composite
def orders(draw: st.DrawFn) -> Order:
    start = draw(MOMENTS)
    return Order(
        start=start,
        stop=draw(st.none() | st.timedeltas(timedelta(minutes=1), timedelta(9)).map(start.__add__)),
        breaths=draw(st.integers(1, 200)),
        every_h=draw(st.integers(1, 24)),
        goal_ml=draw(st.none() | ML),
        hold_s=draw(st.floats(0, 60)),
        by=draw(st.none() | TEXT),
        spo2_min=draw(st.none() | st.floats(50, 100)),
    )


PATIENTS = st.builds(
    Patient,
    id=TEXT,
    name=TEXT,
    born=st.dates(date(1930, 1, 1), date(2010, 1, 1)),
    bed=TEXT,
    place=st.just(NOWHERE),
    sex=st.sampled_from([None, "female", "male"]),
    height_cm=st.none() | st.floats(100, 230),
    weight_kg=st.none() | st.floats(5, 350),
    reason=st.none() | TEXT,
    surgery_on=st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    order=st.none() | orders(),
    baseline_ml=st.none() | ML,
    device_given=DONE,
    device_labelled=st.none() | st.booleans(),
    device_scale_ml=st.none() | ML,
    taught=DONE,
    shown_back=DONE,
    home_on=st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    precautions=st.none() | TEXT,
)
