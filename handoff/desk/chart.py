"""The chart of a patient's page: the volumes as on paper, signs in strips under them, and a table.

Input: a `Ward`, a patient and the chart of the page. Output: SVG, and a `Reading` for each entry
that the chart shows, with its place on the drawing. Computes no number.
"""

from markupsafe import Markup

from handoff.compose.series import form_of, shown_entries, sign_strips
from handoff.compose.words import Words
from handoff.desk.drawing import svg
from handoff.desk.ward import Ward
from handoff.draw.chart import Box, draw_strips, draw_volume
from handoff.explain.subject import in_words
from handoff.model.frozen import Frozen
from handoff.model.pages import PatientPage
from handoff.model.rounding import volume
from handoff.model.ward import NO_SIGNS, Entry, Flow, Patient, Symptom

CHART_PT = (480.0, 210.0)  # narrower than on paper: its words are then large enough to read
COLUMNS = ("at", "volume_ml", "flow", "spo2", "oxygen", "resp_rate", "pulse", "temp_c", "pain")
MOST_ROWS = 100  # of the table
UNITS = {"spo2": " %", "temp_c": " °C"}


class Reading(Frozen):
    """One row of the table. `across` and `down` are its place, in per cent of the drawing's width
    and height; `down` is None for what is no reading. `said` is all that is recorded, in words;
    `cells` are in the order of `columns`.
    """

    across: float
    down: float | None
    said: str
    cells: tuple[str, ...]


class Chart(Frozen):
    """The drawings, and what they show as a table, the oldest first; `left_out` are older rows than
    the table has room for.
    """

    volumes: Markup
    strips: Markup
    columns: tuple[str, ...]
    readings: tuple[Reading, ...]
    left_out: int


def chart_of(seen: Ward, number: int, patient: Patient, page: PatientPage) -> Chart:
    """The chart of a patient of the unit of this number."""
    results, words = seen.results[number], seen.words[number]
    handover, measures = results.handover, results.measures[patient.id]
    strips = sign_strips(handover, measures, words)
    # A drawing is read out by its title; its content is also in the table.
    title = f"{page.chart_title}. {page.chart_key}"
    named = ", ".join(each.label for each in strips)
    width, height = CHART_PT
    box = Box(page.chart, width, height)
    shown = [
        each
        for each in shown_entries(handover, measures)
        if each.volume_ml is not None or each.signs != NO_SIGNS
    ]
    return Chart(
        svg(draw_volume(page.chart, width, height), title, name="chart"),
        svg(draw_strips(page.chart, strips, width), named, name="strips"),
        tuple(words.say(f"blank.column.{name}") for name in (*COLUMNS, "symptoms")),
        tuple(
            Reading(
                across=100 * box.x((each.at - handover.as_of).total_seconds() / 3600) / width,
                down=100 * (1 - box.y(each.volume_ml or 0) / height) if each.is_reading else None,
                said=_said(each, patient, words),
                cells=(*_cells(each, patient, words), _symptoms(each, words)),
            )
            for each in shown[-MOST_ROWS:]
        ),
        len(shown[:-MOST_ROWS]),
    )


def _said(entry: Entry, patient: Patient, words: Words) -> str:
    form = form_of(entry, patient)
    in_form = f" ({words.say(f'desk.form.{form}')})" if form else ""
    return f"{words.when(entry.at)}: {in_words(entry)}{in_form}"


def _cells(entry: Entry, patient: Patient, words: Words) -> tuple[str, ...]:
    """What is recorded in each of `COLUMNS`; '' where nothing is."""
    signs, form = entry.signs, form_of(entry, patient)
    flow = "blew" if entry.flow is Flow.BLEW else form
    air = {None: "", True: f"{words.say('terms.on_oxygen')} {signs.oxygen or ''}".strip()}
    cells = {
        "at": words.when(entry.at),
        "volume_ml": "" if entry.volume_ml is None else volume(entry.volume_ml),
        "flow": words.say(f"desk.form.{flow}") if flow else "",
        "oxygen": air.get(signs.on_oxygen, words.say("desk.on_air")),
    }
    return tuple(
        cells[name] if name in cells else _sign(getattr(signs, name), UNITS.get(name, ""))
        for name in COLUMNS
    )


def _sign(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g}{unit}"


def _symptoms(entry: Entry, words: Words) -> str:
    known = entry.signs.charted
    return ", ".join(words.say(f"terms.{each}") for each in Symptom if each in known)
