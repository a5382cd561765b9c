"""The one list of what can be wrong with a log or a unit's own file: code, severity, words, fix.

Input: a code, a place and the words that fill its sentence. Output: a `Finding`. Codes are stable:
users and scripts rely on them. Never reads a log, never decides whether something is wrong.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from handoff.model.findings import Finding, Place, Severity


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding; `{name}` in `message` and `fix` is replaced by a word given with the
    finding.
    """

    severity: Severity
    message: str
    fix: str


def _error(message: str, fix: str) -> Kind:
    return Kind(Severity.ERROR, message, fix)


def _warning(message: str, fix: str) -> Kind:
    return Kind(Severity.WARNING, message, fix)


def _note(message: str, fix: str) -> Kind:
    return Kind(Severity.NOTE, message, fix)


_YAML = {
    "yaml-syntax": _error(
        "{problem}, so the file cannot be read.",
        "Check the spaces, brackets and quotation marks here and on the line before.",
    ),
    "yaml-alias": _error(
        "a value that starts with & or * is not read in a log.",
        "Write the value out, or put the text in quotation marks.",
    ),
    "yaml-tag": _error(
        "a value that starts with ! is not read in a log.",
        "Leave the ! out, or put the text in quotation marks.",
    ),
    "yaml-merge-key": _error("<< is not read in a log.", "Write each field out."),
    "yaml-nesting": _error(
        "this is nested more than {deepest} levels deep.",
        "Check the brackets and the indentation, or raise the bound with --max-nesting.",
    ),
    "yaml-documents": _error(
        "a second document starts here (---), and a file holds just one.",
        "Put each document into a file of its own.",
    ),
    "yaml-key": _error(
        "the name of a field is a list or a group here.", "Write a plain name before the colon."
    ),
    "comma-in-number": _error(
        "the comma splits this number in two, so the number is not known.",
        "Type it without a comma between thousands, and with a point before decimals.",
    ),
    "missing-dash": _error(
        "the names begin again here, so two records stand in one and neither is known.",
        "Put a dash and a space before {name}, as before the record above.",
    ),
    "list-twice": _error(
        "this list is begun again, first on line {first_line}, so neither is read.",
        "Move what stands under it to the end of the first list, and delete this name alone.",
    ),
    "cut-by-comment": _warning(
        "YAML takes what begins with # for a remark, so this is not read: {cut}.",
        "If it belongs to the log, {instead}.",
    ),
    "duplicate-key": _error(
        "the field is written more than once, first on line {first_line}, so its value is not "
        "known.",
        "Keep the right one and delete the other.",
    ),
}

_TIMES = {
    "not-a-time": _error(
        "not a date and time.", "Type it as 2026-03-07 19:40 (year-month-day, 24-hour clock)."
    ),
    "not-a-date": _error("not a date.", "Type it as 2026-03-07 (year-month-day)."),
    "date-without-time": _error(
        "a date without a time of day.", "Type the time too, as in 2026-03-07 19:40."
    ),
    "time-without-date": _error(
        "a time of day without a date, which could be any day.",
        "Type the date too, as in 2026-03-07 19:40.",
    ),
    "end-without-date": _error(
        "the next such time after the start is more than an hour after the shift, so it may be a "
        "slip.",
        "Correct at or until, or type the date of until too.",
    ),
    "ambiguous-date": _error(
        "month and day cannot be told apart.",
        "Type it as 2026-03-07 (year-month-day), or say how to read it: --dates mdy (month "
        "first) or --dates dmy (day first).",
    ),
    "date-order": _warning(
        "this date can only be read with the {first} first, and so are all dates of this file that "
        "are written with '{mark}'.",
        "Nothing needs to be done if that is right; --dates {order} says the same.",
    ),
    "spreadsheet-serial": _error(
        "this is a spreadsheet's serial number for a date or time, not a date or time.",
        "In the spreadsheet, show the column as year-month-day hours:minutes and save it again.",
    ),
    "bad-time-zone": _error(
        "not the name of a time zone.", "Type its IANA name, such as America/Halifax."
    ),
    "bad-quiet-hours": _error("not two clock times.", "Type them as 22:00-06:00, or type none."),
    "time-does-not-exist": _error(
        "this time did not exist: the clock went forward over it.",
        "Check the time, or write the offset from UTC after it, as in 2026-03-08 03:15-03:00.",
    ),
    "time-twice": _warning(
        "the clock went back, so this time came twice. It is read as {read}.",
        "If the second one is meant, type {other}.",
    ),
}

_FILE = {
    "no-such-file": _error("there is no such file.", "Check the name and the folder."),
    "is-a-folder": _error("this is a folder, not a log.", "Name the log file inside it."),
    "no-permission": _error(
        "this file may not be read with your user name.", "Ask its owner to let you read it."
    ),
    "cannot-read": _error("this file cannot be read: {problem}.", "Check the disk or make a copy."),
    "unknown-format": _error(
        "the name of a log ends in .yaml, .yml, .xlsx, .csv, .tsv or .txt, and this one does not.",
        "Rename the file by what is in it.",
    ),
    "file-too-large": _error(
        "this file is larger than {limit_mb:g} MB, which no log of one shift is.",
        "Check that it is the right file, or raise the bound with --max-size.",
    ),
    "too-many-rows": _error(
        "this file has more than {most:,} rows, which no log of one shift has.",
        "Check that it is the right file, or raise the bound with --max-rows.",
    ),
    "bad-file-name": _error(
        "the name of this file or folder holds a character that cannot be printed ({character}).",
        "Rename it.",
    ),
    "same-file": _note(
        "this file is given more than once, and it is read once.", "Nothing needs to be done."
    ),
    "empty-file": _error("there is nothing in this file.", "Check that it was saved."),
    "binary-file": _error(
        "this is not a text file.", "In a spreadsheet, save it as CSV, and give the CSV file."
    ),
    "other-spreadsheet": _error(
        "a spreadsheet saved as {suffix} is not read.",
        "In the spreadsheet, save it as .xlsx or as CSV, and give that file.",
    ),
    "not-a-workbook": _error(
        "this is no workbook that can be read: it is damaged, protected or of another kind.",
        "Open it in the spreadsheet, take off a password, and save it as .xlsx or as CSV.",
    ),
    "too-many-cells": _error(
        "this workbook holds far more cells than the log of one shift.",
        "Copy the rows of the log into a new workbook, or save the sheet as CSV.",
    ),
    "sheet-not-read": _note(
        "the log is read from the sheet {sheet}, and other sheets are not read: {others}.",
        "Nothing needs to be done if that is right.",
    ),
    "second-log": _warning(
        "other sheets look like logs too and are not read: {others}. Only {sheet} is.",
        "Give the log of each shift a file of its own.",
    ),
    "formula-without-value": _error(
        "this is a formula whose result was not saved, so the value is not known.",
        "Open the workbook in the spreadsheet and save it again, or type the value.",
    ),
    "nul-bytes": _error(
        "there are NUL bytes here, so the file is damaged or is not plain text.",
        "Save the log again as UTF-8 text.",
    ),
    "encoding-assumed": _warning(
        "the text is not UTF-8. It is read as Windows-1252, so letters with accents may be wrong.",
        "Check the names, or save the log again as UTF-8.",
    ),
}

_SHAPE = {
    "wrong-shape": _error(
        "{found} stands where {wanted} belongs.", "Write it as in the log that handoff blank makes."
    ),
    "no-colon": _error(
        "a colon and a space are missing between the name and the value, so it is not known.",
        "Write it as {name}: {text}.",
    ),
    "comma-in-text": _warning(
        "the comma splits this text in two. It is read as one text all the same.",
        "Put the text in quotation marks.",
    ),
    "missing-section": _warning(
        "the log has no '{section}', so it is read as having none.",
        "Check the spelling at the left margin, or add '{section}:'.",
    ),
    "indented-section": _error(
        "this stands inside another part of the log, so nothing in the file is read.",
        "Move {section}: to the left margin, with all that stands under it.",
    ),
    "unknown-section": _error(
        "this is no part of a log, so nothing under it is read.",
        "The parts are unit, shift, patients and entries. Correct the name or take the part out.",
    ),
    "unknown-field": _warning(
        "a log has no field of this name, so what stands there is not read.",
        "Correct the name or take it out.",
    ),
    "no-header": _error(
        "no row near the top holds the names of the columns.",
        "Start the file with a row such as patient_id, at, breaths, volume_ml.",
    ),
    "columns-not-parted": _error(
        "these are names of columns with no comma, semicolon or tab between them.",
        "Paste the table into a spreadsheet, a column for each, and save it as CSV.",
    ),
    "missing-column": _error(
        "this column is missing, and rows cannot be used without it.",
        "Add the column, or correct its name.",
    ),
    "wrong-group": _error(
        "this belongs under {group} and stands beside it, so it is not known.",
        "Write it under {group}:, two spaces further to the right.",
    ),
    "duplicate-column": _warning(
        "two columns have this name. A row is read where they agree or only one is filled in.",
        "Keep the right column and delete the other.",
    ),
    "columns-disagree": _error(
        "the columns with this name say different things ({values}), so the value is not known.",
        "Keep the right one and clear the other.",
    ),
    "column-without-name": _error(
        "this stands in a column without a name, so it is not read.",
        "Move it into the column where it belongs, such as note.",
    ),
    "read-above": _note(
        "this row above the column names is read as the unit and the shift.",
        "Nothing needs to be done.",
    ),
    "entry-above": _error(
        "this row stands above the column names, so it is not read, and it may hold an entry.",
        "Move the row of column names to the top.",
    ),
    "other-header": _warning(
        "this row holds other column names than those above. The rows below it are read by them.",
        "Check that they stand above the right cells.",
    ),
    "title-row": _note("this row above the column names is not read.", "Nothing needs to be done."),
    "repeated-header": _note(
        "this row repeats the column names and is not read.", "Nothing needs to be done."
    ),
    "blank-row": _note("there is nothing to read in {rows}.", "Nothing needs to be done."),
    "unit-only-row": _note(
        "this row tells of the unit and holds no entry.", "Nothing needs to be done."
    ),
    "patient-only-row": _note(
        "this row tells of a patient and holds no entry.", "Nothing needs to be done."
    ),
    "mended-row": _note(
        "this row is used instead of the one that was set aside.", "Nothing needs to be done."
    ),
    "mended-row-in-doubt": _error(
        "the row at {at} is set aside for another reason than this row gives, so this may be the "
        "mending of another row. It is set aside too.",
        "Make set-aside.csv anew from the log as it is now, and mend that.",
    ),
    "mended-row-twice": _error(
        "another mended row is used for the row at {at} already and says something else, so this "
        "one is set aside.",
        "Keep the one that is right and delete the other.",
    ),
    "not-a-record": _error(
        "{found} stands where an entry belongs, so it is set aside.",
        "Write it as - {{patient: ..., at: ..., breaths: ...}}.",
    ),
    "short-row": _error(
        "the row has {cells} and the column names are {columns}, so it is set aside.",
        "Add the cells that are missing; a cell may be blank. A spreadsheet keeps blank "
        "cells at the ends of rows when the last column is always filled in.",
    ),
    "long-row": _error(
        "the row has {cells} and the column names are {columns}, so it is set aside.",
        'Put text that holds a comma, semicolon or tab in straight quotation marks ("), with no '
        "space before them.",
    ),
    "row-in-one-cell": _error(
        "a whole row stands in one cell, so that nothing can be told apart in it.",
        "Open the file in the spreadsheet anew, with the comma as separator, and save it again.",
    ),
    "unclosed-quote": _error(
        "a quotation mark is opened and not closed as it should be, so the row is set aside.",
        "Close it at the end of the cell, and double a mark inside quoted text.",
    ),
    "long-cell": _error(
        "a cell is far too long to be read, so the row is set aside.", "Shorten the text."
    ),
}

_UNIT_AND_SHIFT = {
    "missing-unit": _error(
        "the log does not say which unit it is of, so nothing can be handed over.",
        "Fill in unit.name (YAML) or the column unit (CSV), or give --unit NAME.",
    ),
    "missing-time-zone": _error(
        "the log does not say in which time zone it is, so nothing can be handed over.",
        "Fill in unit.time_zone (YAML) or the column time_zone (CSV), or give --time-zone ZONE.",
    ),
    "missing-shift": _error(
        "the log does not say when its shift {end}, so nothing can be handed over.",
        "Fill in shift.start and shift.end (YAML) or the columns shift_start and shift_end (CSV), "
        "or give --shift START/END.",
    ),
    "example-left": _error(
        "this is still the example of a log to fill in, so nothing can be handed over.",
        "Write what is true of this shift instead.",
    ),
    "bad-shift-option": _error(
        "not a start and an end with / between them.",
        "Give it as --shift 2026-03-07T19:00/2026-03-08T07:00.",
    ),
    "shift-ends-too-soon": _error(
        "the shift ends no later than it starts ({start}).", "Correct the start or the end."
    ),
    "shift-too-long": _error(
        "the shift is longer than 24 hours (from {start}).", "Correct the start or the end."
    ),
    "option-not-used": _note(
        "the log says this itself, so the option {option} ({given}) is not used.",
        "Correct the log if the option is right.",
    ),
    "shift-to-come": _warning(
        "the shift starts more than 24 hours from now. It is used as it is.", "Check its date."
    ),
    "other-shift": _error(
        "the row is of another unit or shift than the first row says ({first}), so it is set "
        "aside.",
        "Give each shift of each unit a file of its own.",
    ),
    "unit-disagrees": _warning(
        "an earlier row says {first}, and that is used.", "Make the rows agree, or say it once."
    ),
    "default-used": _warning(
        "this cannot be used, so the usual value is used: {default}.",
        "Correct it if something else is meant.",
    ),
}

_CELLS = {
    "read-as": _warning(
        "written with {what}. It is read as {read}, and so are others like it in this column.",
        "Nothing needs to be done if that is right.",
    ),
    "missing-cell": _error("not filled in.", "Fill it in."),
    "not-a-number": _error(
        "not a number{in_unit}.",
        "Type digits only, for example {example}{or_blank}.",
    ),
    "not-whole": _error("not a whole number.", "Type a whole number, for example {example}."),
    "out-of-range": _error(
        "only {low:,g} to {high:,g}{unit} can be right here.", "Check the number and type it again."
    ),
    "looks-like-litres": _error(
        "too small for a volume in mL; it looks like litres.", "Type the volume in mL."
    ),
    "not-a-choice": _error(
        "'{word}' is not one of the words used here.", "Type one of: {choices}."
    ),
    "not-yes-or-no": _error("neither yes nor no.", "Type yes or no{or_blank}."),
    "not-done": _error(
        "neither a time, yes nor no.",
        "Type the time it was done, or yes, or no, or leave it blank.",
    ),
    "denied": _error(
        "'{word}' denies something here, and it is not clear what, so nothing in this cell is "
        "read.",
        "Type only what there is, or {instead}.",
    ),
    "error-value": _error(
        "this is an error of a spreadsheet and not what was typed.",
        "Type what belongs here{or_blank}.",
    ),
    "spoiled-by-spreadsheet": _error(
        "a spreadsheet has made a number of this and changed it.",
        "Format the column as text, and type it again as it is written elsewhere.",
    ),
    "bed-like-a-date": _warning(
        "a spreadsheet may have made a date of this bed. It is used as it is.",
        "Format the column as text, and type the bed again.",
    ),
    "none-and-more": _error(
        "'none' stands beside something else, so it is not read. The rest is.",
        "Take out none, or what stands beside it.",
    ),
    "oxygen-is-none": _error(
        "this gives no amount of oxygen, and does not clearly say that none is given.",
        "Type no under on_oxygen and leave oxygen blank; or type how much, as in 2 L nasal.",
    ),
    "says-nothing": _error(
        "this says nothing by itself, so it is not known.",
        "Type what is meant, or leave it blank when it is not known.",
    ),
    "inner-number": _error(
        "this is no whole phone number, so nobody can call it from home.",
        "Type the whole number as it is called from outside, for example 902-555-0144.",
    ),
    "too-long": _error(
        "longer than {longest} characters ({length}).", "Shorten it to {longest} characters."
    ),
    "bad-character": _error(
        "a character that cannot be printed ({character}) is in this text.", "Type the text again."
    ),
    "born-out-of-range": _error(
        "no patient of this shift can have this birth date.", "Check the year and type it again."
    ),
}

_ROWS = {
    "unknown-patient": _error(
        "no patient of this log has this id, so the row is set aside.",
        "Correct the id. If it is right, add the patient; if the row is no entry, delete it.",
    ),
    "row-of-nobody": _error(
        "no id of a patient stands here, so the row is set aside.",
        "Fill it in, or delete the row if it is no entry, such as one of totals.",
    ),
    "other-person": _error(
        "this row alone has another name or birth date than the other {rows} of this id, so it is "
        "set aside.",
        "Find out whose row it is and correct the id, the name or the birth date.",
    ),
    "id-of-one-row": _error(
        "this row alone has this id, and a patient with another id has the same name and birth "
        "date, so it is set aside.",
        "Correct the id.",
    ),
    "identity-in-doubt": _error(
        "this id stands for two people, so the row is set aside.",
        "Find out whose row this is and correct its id.",
    ),
    "patient-not-identified": _error(
        "the patient of this row has neither a name nor a birth date, so the row is set aside.",
        "Correct the id; or, if it is another patient, add the name and birth date.",
    ),
    "missing-until": _error(
        "a row of this kind needs the time it ended, so it is set aside.",
        "Fill in until, the time the patient was back or awake.",
    ),
    "hold-until-lost": _error(
        "this cannot be read as the end of the hold, so the hold is used without an end.",
        "Correct until, at most 14 days after the start, or clear it and add a row with resume "
        "when the hold ends.",
    ),
    "until-not-after-at": _error(
        "the end is not later than the start, so the row is set aside.",
        "Correct at or until; type the date too when the span goes over midnight.",
    ),
    "span-too-long": _error(
        "the end is more than 24 hours after the start, so the row is set aside.",
        "Correct at or until.",
    ),
    "breaths-for-volume": _error(
        "the breaths look like a volume and the volume like breaths, so the row is set aside.",
        "Check both and type each in its own place.",
    ),
    "empty-exercise": _error(
        "an exercise with neither breaths nor a volume, so the row is set aside.",
        "Add breaths or volume_ml, or type note under what if it was no exercise.",
    ),
    "not-an-exercise": _warning(
        "this row is of the kind {what}, so this is not counted.",
        "If it was an exercise, type exercise under what.",
    ),
    "long-span": _warning(
        "the span lasts {hours:.3g} hours. It is used as it is.",
        "Check at and until; type the date too when the span goes over midnight.",
    ),
    "oxygen-disagrees": _error(
        "what stands under oxygen and under on_oxygen cannot both be right, so neither is known.",
        "Find out which is right and clear the other.",
    ),
    "told-without-note": _warning(
        "the row says that somebody was told, but not who or of what, so it answers nothing.",
        "Write who was told and what was said under note.",
    ),
    "settled-without-note": _warning(
        "the row says that something is over, but not who says so, so it settles nothing.",
        "Write who decided it, and what, under note.",
    ),
    "settled-without-about": _warning(
        "the row says that something is over, but not what, so it settles nothing.",
        "Type what it is about under about: {choices}.",
    ),
    "hold-without-note": _warning(
        "the row says that the exercise is held, but not who decided it or why. It is held.",
        "Write who decided it, and why, under note.",
    ),
    "settled-nothing-open": _warning(
        "nothing that this row is about is open at this time, so it settles nothing.",
        "Check the time, whose row it is, and what it is about: {choices}.",
    ),
    "told-about-what": _note(
        "the row says that a provider was told, but not of what, so what is open is still asked "
        "for.",
        "Type what it was about under about: {choices}.",
    ),
    "self-reported": _warning(
        "{what} is for staff to say, and this row is seen by the patient, so it changes nothing.",
        "Type under seen_by who of the staff says so, or type note under what.",
    ),
    "left-without-note": _warning(
        "the row says that the patient has left, but not where to. It is used.",
        "Write where to, and who was told of what is open, under note.",
    ),
    "about-not-used": _warning(
        "about is read in a row that says told or settled. This row says neither, so it is not "
        "used.",
        "Type told or settled under what, or clear about.",
    ),
}

_PATIENTS = {
    "one-id-two-people": _error(
        "this id stands for two people: the names or birth dates do not agree. No sheet is made "
        "and all rows of this id are set aside.",
        "Find out who is who and correct the id, the name or the birth date.",
    ),
    "two-ids": _warning(
        "this may be the patient with the id {other}: who it is agrees. Nothing is merged.",
        "Find out which id is right, and write that one in all rows.",
    ),
    "too-few-identifiers": _error(
        "the patient has neither a name nor a birth date, and an id alone is not enough to tell "
        "who it is. No sheet is made.",
        "Correct the id; or, if it is another patient, add the name and the birth date.",
    ),
    "patient-disagrees": _error(
        "two rows of this patient say different things ({values}), so it is disputed.",
        "Find out which is right and make the rows agree{or_anew}.",
    ),
    "bed-changed": _warning(
        "this patient's rows say bed {before}, and from {at} on bed {bed}, which is used.",
        "Check that the later rows are this patient's: a bed does not tell who somebody is.",
    ),
    "year-in-doubt": _warning(
        "this is about a year from the shift. It is used as it is.", "Check the year."
    ),
    "order-without-start": _error(
        "there is an order, but when it started is not known, so no breaths can be counted and no "
        "sheet is made.",
        "Fill in the date and time the order started.",
    ),
    "stop-before-start": _error(
        "the order stops no later than it starts, so the stop is not used.",
        "Correct the start or the stop of the order.",
    ),
    "other-order-without-start": _error(
        "when this order of {patient} started is not known, so it is left out: what counts is the "
        "order of {start} alone.",
        "Fill in the date and time this order started, or the same start where it is the same one.",
    ),
    "order-not-readable": _warning(
        "how many breaths are due, how often or until when is not known: by this order nothing is "
        "due, and nothing is counted.",
        "Correct what is said here of the order; a finding above names the cell.",
    ),
    "order-not-stated": _warning(
        "the order of {patient} says no number of breaths and no time: the usual is used, 10 "
        "breaths every hour while awake.",
        "Write what is ordered, also where that is the usual.",
    ),
    "order-left-out": _warning(
        "this log has no order for {patient}, and an earlier one has the order of {start} without "
        "a stop before this shift. A blank is no stop, and without an order nothing is due.",
        "Copy the order into this log with its start; if it was stopped, write its stop beside it.",
    ),
    "new-order": _note(
        "an order begins after another, which ends there: {begun}.",
        "If it is the same order, correct its start.",
    ),
    "order-changed": _note(
        "the order of {start} for {patient} has other values here than in the log before "
        "({names}): it counts as changed from the start of this shift.",
        "If it was changed at another time, give the new order a start of its own, beside the old.",
    ),
    "limits-reversed": _error(
        "the order's lower limit ({low}) is not under its upper one ({high}), so neither is used: "
        "the unit's limits stand.",
        "Look in the order, and write the lower number under {low_name}, the higher under "
        "{high_name}.",
    ),
    "bed-shared": _warning(
        "two patients are in one bed ({bed}).", "Check the beds and correct the one that is wrong."
    ),
    "no-home-phone": _note(
        "the log has no number that can be called from home, so the page to take home has a line "
        "to write it on (bed {beds}).",
        "Fill in home_phone, or write the number on the page.",
    ),
    "similar-names": _note(
        "this name could be mixed up with that of {others}.",
        "Check the id and the {check} each time{why}.",
    ),
}

_ENTRIES = {
    "repeated-entry": _warning(
        "the same entry is already there, so this one is set aside.", "Delete one of them."
    ),
    "same-minute": _warning(
        "another entry of this patient has the same time. Both are used.",
        "Check whether one of them is wrong.",
    ),
    "outside-shift": _warning(
        "the time ({at}) is outside this log's shift. The entry counts in the shift of its time.",
        "Check the date and the time.",
    ),
    "none-in-shift": _warning(
        "none of the {count} entries is in this log's shift ({start} to {end}).",
        "Check the date of the shift (in the log or in --shift) and the dates of the entries.",
    ),
    "far-from-shift": _error(
        "the time ({at}) is too far from this log's shift, so the row is set aside.",
        "Correct the date.",
    ),
    "two-holds": _warning(
        "the exercise is held already when this hold begins. Both are used, and one resume ends "
        "both.",
        "Nothing needs to be done if that is right; else add the row with resume that is missing.",
    ),
    "resume-without-hold": _warning(
        "no hold is in force at this time in the logs that are given, so this ends nothing.",
        "Check the time, and whether the row that says hold is missing.",
    ),
    "two-stays": _warning(
        "the order begins {start}, after the patient was off the list, so this is a new stay. The "
        "earlier one, to {until}, is not counted.",
        "If the patient never left, correct the start of the order, or add the patient to the "
        "logs between.",
    ),
    "not-repeated": _note(
        "this log does not repeat {names}. What the log before said still holds.",
        "Copy it into this log. Where it no longer holds, write what does.",
    ),
    "before-order": _warning(
        "the time ({at}) is before the order started: its breaths and volume are not counted; its "
        "signs are judged.",
        "Check the time, and the start of the order.",
    ),
    "after-as-of": _warning(
        "the time ({at}) is later than the time this hand-over is made for ({as_of}). The entry is "
        "kept for the next hand-over.",
        "Check the time.",
    ),
}

_HANDOVER = {
    "as-of-before-shift": _error(
        "before the shift that is handed over starts ({start}).",
        "Give a time in or after that shift.",
    ),
    "shifts-overlap": _warning(
        "this log's shift overlaps the one that is handed over ({other}).",
        "Check the start and the end of both shifts.",
    ),
    "other-time-zone": _error(
        "this log has the same unit name as {other} and another time zone, so all its entries are "
        "set aside.",
        "Correct the time zone, or give the units different names.",
    ),
    "entry-of-other-time-zone": _error(
        "the entry is in a log whose time zone is in doubt, so it is set aside.",
        "Correct the log's time zone.",
    ),
    "two-versions": _error(
        "this log and {other} are two versions of one shift's log, and {rows}. No sheet is made: "
        "the older one would bring back what was corrected.",
        "Give only the right one; or add --newest, which takes the file that was changed last.",
    ),
    "older-version": _note(
        "this is an older version of {other}, so it is not used.", "Nothing needs to be done."
    ),
    "identity-disagrees": _error(
        "the later log has another name or birth date for this id, so this entry is set aside.",
        "Find out whose entry this is and correct the id, the name or the birth date.",
    ),
    "logs-disagree": _error(
        "another log of this shift says something else of this patient, so it is disputed.",
        "Find out which is right and make the logs agree{or_anew}.",
    ),
    "on-two-units": _warning(
        "this patient is on the list of {units} too, and what is charted there is not read here.",
        "Read both sheets, and take the patient off the list of the unit that was left.",
    ),
    "transfer-overlaps": _warning(
        "this patient came from {unit}, whose list has them until {until}, and this list has them "
        "from {start}. What both charted is used.",
        "Add a row with left to the log of {unit}, at the time the patient went.",
    ),
    "no-longer-listed": _note(
        "this patient is not on the list of the latest log, so no sheet is made.",
        "Add the patient to the latest log if still on the unit.",
    ),
    "long-gone": _note(
        "{patients} of earlier logs, on no list for more than 7 days, have no sheet.",
        "Nothing needs to be done.",
    ),
    "left-in-shift": _note(
        "the patient left at {at}, so no sheet is made.",
        "Correct this row if the patient is still on the unit.",
    ),
    "back-after-left": _warning(
        "this row says that the patient left, and the next order begins {start}: nothing is due "
        "between, and nothing of the orders before is carried over, no goal and no limit. What was "
        "charted before still counts.",
        "Nothing needs to be done if that is right; if the patient never left, delete this row.",
    ),
    "charted-after-left": _warning(
        "this row says that the patient left, and a later one ({at}) is charted here, so the "
        "patient counts as still on the unit.",
        "Find out whether the patient left, and correct the row that is wrong.",
    ),
}

_DESK = {
    "time-of-the-page": _warning(
        "this is still the time of {minutes} minutes ago, when the page was opened.",
        "Correct it, or add the entry as it is.",
    ),
    "entry-again": _warning(
        "the same entry is already there: a second one counts in no number.",
        "Correct the time or the patient, or leave it.",
    ),
    "volume-over-scale": _warning(
        "more than the device can show: its scale of {scale_ml:,g} mL ends below this.",
        "Look at the device and the volume again, or add the entry as it is.",
    ),
    "volume-far-over-best": _warning(
        "{times} times the {best_ml:,g} mL that are the best of the last {hours} hours, or more.",
        "Check the patient and the volume, or add the entry as it is.",
    ),
}

_PAPER = {
    "letters-not-in-font": _warning(
        "the fonts of the sheets lack these letters of the name or bed: {letters}.",
        "Give a font that has them with --font. Until then know the patient by the id and the "
        "birth date, which are printed beside the name.",
    ),
}

_LIMITS = {
    "limits-unreadable": _error(
        "the file of limits cannot be read: {reason}.", "Name a YAML file that is saved as UTF-8."
    ),
    "limits-shape": _error("{wanted} is expected here.", "Write {form}."),
    "limits-unknown-key": _error(
        "`{name}` is not known here.",
        "Correct the name or take it out; handoff limits prints all names.",
    ),
    "limits-incomplete": _error(
        "a limit needs a value and a unit.",
        'Write {{value: {value}, unit: "{unit}"}}.',
    ),
    "limits-wrong-unit": _error(
        "this limit has another unit.",
        'Give the value in "{unit}".',
    ),
    "limits-not-a-number": _error(
        "this is not a number.",
        "Write digits, with a decimal point if need be, or a fraction such as 1/3.",
    ),
    "limits-out-of-range": _error(
        "the value is out of range.", "Allowed is {low} to {high} {unit}."
    ),
    "limits-looser": _error(
        "this is looser than the published limit, {usual} {unit}.",
        "Leave it out, or set a stricter one ({low} to {high} {unit}). A looser limit is for one "
        "patient, and stands in the order (`spo2_min`, `resp_rate_max` and the like).",
    ),
    "limits-never-off": _error(
        "this rule may escalate, so it cannot be switched off.",
        "Leave it out. A limit for one patient stands in the order.",
    ),
    "limits-not-whole": _error(
        "this limit counts things, so it is a whole number.", "Write a whole number."
    ),
    "limits-fixed": _error(
        "`{name}` cannot be changed.", "Leave it out: a unit sets values, or switches a rule off."
    ),
    "limits-edition": _warning(
        "the file was written for another edition of the limits than {edition}.",
        "Compare it with the limits of this edition, then change the edition.",
    ),
    "limits-not-approved": _error("`{name}` is missing.", "Write `{name}:` and {what}."),
    "limits-not-a-date": _error(
        "this is not a date.", "Write year-month-day, for example 2026-03-07."
    ),
}

_FHIR = {
    "fhir-json": _error(
        "the JSON cannot be read here: {problem}.", "Have the file written again by its system."
    ),
    "fhir-json-constant": _error(
        "this is no number that JSON has.", "Have the file written again without it."
    ),
    "fhir-repeated-name": _error(
        "this name stands twice in one object, so its value is not known.",
        "Have the file written again with each name once.",
    ),
    "fhir-nesting": _error(
        "this is nested more than {deepest} levels deep, which no resource is.",
        "Check that it is the right file.",
    ),
    "fhir-not-a-bundle": _error(
        "{what}, and a log of resources is a Bundle in JSON.",
        "Have the record system write a Bundle of FHIR R4 in JSON.",
    ),
    "fhir-bundle-type": _error(
        "a Bundle of this type is not read: it may hold old or deleted versions, or none.",
        "Name a Bundle of type collection, searchset, document, batch or transaction.",
    ),
    "fhir-version": _error(
        "this resource is written as FHIR {release} has it, and only release 4 is read.",
        "Have the record system write release 4.0.1.",
    ),
    "fhir-more-pages": _error(
        "this is one page of several, so patients and rows may be missing.",
        "Fetch all pages and put them into one Bundle, without the link to the next page.",
    ),
    "fhir-outcome": _error(
        "the server answered that something was wrong, so resources may be missing.",
        "Mend what it names and fetch the resources again.",
    ),
    "fhir-shape": _error(
        "{what}, so it is not read.",
        "Have the record system write this entry again.",
    ),
    "fhir-same": _note("this resource stands here once more, and is read once.", "Nothing to do."),
    "fhir-versions": _note(
        "another version of this resource stands here too, and {which} is read.",
        "Compare both where that may be wrong.",
    ),
    "fhir-modifier": _error(
        "this element may change what all others mean, and it is not understood.",
        "Enter what the resource says into a YAML or CSV log by hand.",
    ),
    "fhir-patient-number": _error(
        "this patient has {how_many} {where}, and just one is needed.",
        "Name the hospital's system of patient numbers with --patient-system, or correct the "
        "record.",
    ),
    "fhir-patient-unresolved": _error(
        "which patient this is about cannot be told from the Bundle.",
        "Put that Patient with its number into the Bundle, or correct the reference.",
    ),
    "fhir-another-patient": _warning(
        "this names a resource of another patient, which is read for that patient only.",
        "Correct the reference in the record.",
    ),
    "fhir-replaced": _warning(
        "the record says that another patient's record replaces this one.",
        "Compare both, and have what stands under this number moved.",
    ),
    "fhir-inactive": _warning(
        "the record of this patient {what}.", "Check that it is the right patient."
    ),
    "fhir-older": _note("a newer value of this is there, and that is read.", "Nothing to do."),
    "fhir-unit": _error(
        "this is not an amount in a UCUM unit that can be turned into {unit}.",
        "Have it written in {unit}, with the system of UCUM.",
    ),
    "fhir-converted": _warning(
        "read, in {unit}, as {text}.", "Nothing needs to be done if that is right."
    ),
    "fhir-comparator": _error(
        "more or less than a number is no number.", "Have the number itself written."
    ),
    "fhir-no-value": _error(
        "there is no value here of the kind that is needed.", "Have the value written."
    ),
    "fhir-two-values": _error(
        "two values stand here, or a value and why there is none.",
        "Have the right one written alone.",
    ),
    "fhir-absent": _error(
        "the record says that this value could not be read.",
        "Ask whoever saw it, and have it written.",
    ),
    "fhir-code": _error(
        "this code is not understood here.",
        "Have it coded as the exchange has it, or add the code to the unit's own file of codes.",
    ),
    "fhir-part": _note("this part is not read.", "Nothing to do."),
    "fhir-timing": _error(
        "only so many breaths every so many hours can be read, and this says more.",
        "Write the order's breaths and hours in a YAML or CSV log, as they are ordered.",
    ),
    "fhir-two-orders": _error(
        "another order is in force at the same time, so which of the two holds is not known.",
        "Have the order that no longer holds ended in the record.",
    ),
    "fhir-which-order": _error(
        "the patient has several orders, and which of them this belongs to is not known.",
        "Have it refer to its order.",
    ),
    "fhir-on-hold": _error(
        "the order is on hold, and since when is not known.",
        "Have a hold with its time written, or the order's state corrected.",
    ),
    "fhir-do-not-perform": _error(
        "this is an order not to do the exercise; it is not read.",
        "Ask the provider, and hold the exercise in a YAML or CSV log.",
    ),
    "fhir-status": _note(
        "with this status the resource does not count, and it is not read.", "Nothing to do."
    ),
    "fhir-preliminary": _note(
        "this is preliminary, and is read as it is.", "Look whether it was confirmed."
    ),
    "fhir-entered-in-error": _note(
        "this was entered in error, and counts for nothing.", "Nothing to do."
    ),
    "fhir-no-zone": _error(
        "a time without a time zone, or a day that depends on one.",
        "Have it written with its offset, as in 2026-03-07T19:40:00-04:00, or name --time-zone.",
    ),
    "fhir-two-shifts": _error(
        "the Bundle tells of several shifts, so which one it is of is not known.",
        "Put each shift into a file of its own.",
    ),
    "fhir-other-resources": _note(
        "{read:,} resources read: {rows:,} of rows, {patients:,} of patients and the unit, "
        "{aside:,} set aside, {unused:,} without effect, {repeats:,} repeated, {other:,} about "
        "something else ({kinds}).",
        "Nothing to do.",
    ),
}

_CODES_OF_EXCHANGE = {
    "codes-unreadable": _error(
        "the file of codes cannot be read: {reason}.", "Name a YAML file that is saved as UTF-8."
    ),
    "codes-shape": _error("this is written in another way than expected.", "Write {form}."),
    "codes-unknown-key": _error("`{name}` is not known here.", "Correct the name or take it out."),
    "codes-edition": _warning(
        "the file was written for another edition of the codes than {edition}.",
        "Compare it with the codes of this edition, then change the edition.",
    ),
    "codes-taken": _error(
        "this code already means `{other}`, and it cannot mean two things.",
        "Take it out here.",
    ),
    "fhir-not-written": _warning(
        "what is written here cannot be used, and the Bundle has nothing of it.",
        "Mend it in the log, then write the Bundle again.",
    ),
}

_SERVER = {
    "server-address": _error(
        "this is no base address of a server.",
        "Write it as https://record.example/fhir, with no name, question or key in it.",
    ),
    "server-not-encrypted": _error(
        "this address is not encrypted, so everybody between could read it.",
        "Give an address that begins with https://; only this machine itself may do without.",
    ),
    "token-unreadable": _error(
        "the file of the token cannot be read: {reason}.", "Name a file that you can read."
    ),
    "token-not-private": _error(
        "others can read this file, so whoever did may use its token.",
        "Take their rights away (chmod 600), and have a new token made.",
    ),
    "token-not-one": _error(
        "this does not hold one token, in one line.", "Put the token there and nothing else."
    ),
    "certificate-unreadable": _error(
        "this holds no certificate in the form PEM.",
        "Ask those who run the server for the certificate of its authority.",
    ),
    "server-certificate": _error(
        "the server does not prove that it is the one meant, so nothing is sent to it.",
        "Check the address; where the hospital has its own authority, name its file with --ca.",
    ),
    "server-not-reached": _error(
        "there is no whole answer: {reason}.",
        "Check the address and the network; then run it again.",
    ),
    "server-redirects": _error(
        "the server points to another address (status {status}), which is not followed.",
        "Give the address that it points to, if it is the right one.",
    ),
    "server-login": _error(
        "the server does not accept the token, or wants one (status 401).",
        "Have a new token made and give it with --token-file.",
    ),
    "server-forbids": _error(
        "the token does not allow this (status 403).",
        "Ask those who run the server for the rights that this needs.",
    ),
    "server-busy": _error(
        "the server takes no more requests now.", "Wait a few minutes; then run it again."
    ),
    "server-not-found": _error(
        "the server does not have this (status {status}).", "Check the address and the id."
    ),
    "server-refuses": _error(
        "the server cannot answer this (status {status}).",
        "Tell those who run the server what it says here.",
    ),
    "server-not-json": _error(
        "the answer is not {wanted}, as of a page to log in or another service.",
        "Check the address: it is that of the FHIR service itself.",
    ),
    "server-other-answer": _error(
        "the answer is no {wanted}, which was asked for.",
        "Check the address: it is that of the FHIR service itself.",
    ),
    "server-release": _error(
        "the server does not say that it has {wanted}.",
        "Give the address of a service of HL7 FHIR, release 4.",
    ),
    "server-foreign-page": _error(
        "the next page of the answer is at another address, which is not asked.",
        "Tell those who run the server: its pages have to stand under its base address.",
    ),
    "server-endless-pages": _error(
        "the answer has no end: {pages:,} pages were read, and the next one is still to come.",
        "Tell those who run the server, or ask for less at once.",
    ),
    "get-nobody": _error(
        "nobody is on this ward now, so there is nothing to write.",
        "Check the ward: it is the place that the rooms and beds are part of.",
    ),
    "server-floods": _error(
        "the answers are larger than --max-size allows.",
        "Check the address and the ward, or raise the bound with --max-size.",
    ),
}

_SEND = {
    "send-no-files": _error(
        "this folder has nothing to send.",
        "Name the folder fhir of a set of sheets that was printed with --fhir.",
    ),
    "send-file": _error(
        "this file is not sent: {problem}.", "Print the sheets again with --fhir, and send those."
    ),
    "send-other-shift": _error(
        "the two folders are not of one and the same shift, so nothing is marked as entered in "
        "error.",
        "Name with --before the folder of the same shift that was sent before.",
    ),
    "send-nobody": _error(
        "the record has nobody with this number, so nothing of this patient is sent.",
        "Check the number in the log, and the identifier system that --fhir named.",
    ),
    "send-several": _error(
        "the record has more than one patient with this number, so nothing is sent of them.",
        "Have the record put right.",
    ),
    "send-inactive": _error(
        "the record has this patient as inactive or replaced by another, so nothing is sent.",
        "Find out under which number the record goes on, and correct the log.",
    ),
    "send-born": _error(
        "the record has another birth date for this number, or the log has none, so nothing of "
        "this patient is sent.",
        "Find out who the patient is, and correct the number or the birth date.",
    ),
    "send-name": _error(
        "the record has quite another name for this number, so nothing of this patient is sent.",
        "Find out who the patient is. If it is the same person, add --confirm and the number.",
    ),
    "send-of-another": _error(
        "the record has this under another patient, and it is left there.",
        "Find out whose it is, and have the record put right.",
    ),
    "send-entered-in-error": _warning(
        "the record says that this was entered in error, and it is left so.",
        "Find out why, and correct the log.",
    ),
    "send-differs": _error(
        "the record says something else ({element}), and it is left so.",
        "Find out which is right; --correct puts what the log says in its place.",
    ),
    "send-twice": _error(
        "the record has this {count} times.",
        "Have all but one marked as entered in error there.",
    ),
    "send-refused": _error(
        "the server does not take this (status {status}).",
        "Tell those who run the server what it says here; if these are too many entries, give a "
        "smaller --most-entries.",
    ),
    "send-unresolved": _error(
        "what this refers to could not be sent, so it is left out.", "Send all of it again."
    ),
    "send-not-there": _error(
        "the server took this, and does not have it now.", "Send it again a little later."
    ),
    "send-changed": _error(
        "somebody changed this in the record at the same time, and it is left so.",
        "Look what the record says now; then send it again.",
    ),
    "send-no-version": _error(
        "the server keeps no versions, so nothing is changed there.",
        "Have it changed in the record itself.",
    ),
}

_WORDS = {
    "words-unreadable": _error(
        "the words cannot be read: {reason}.", "Name a folder with files that are saved as UTF-8."
    ),
    "bad-template": _error(
        "the words '{name}' cannot be filled in: {problem}.",
        "Compare them with the shipped templates and correct them.",
    ),
    "unknown-words": _error(
        "no sheet has words named '{name}'.",
        "Use a name that the shipped file of the same name has.",
    ),
}

CODES: Mapping[str, Kind] = MappingProxyType(
    {
        **_FILE,
        **_YAML,
        **_SHAPE,
        **_UNIT_AND_SHIFT,
        **_CELLS,
        **_TIMES,
        **_ROWS,
        **_PATIENTS,
        **_ENTRIES,
        **_HANDOVER,
        **_PAPER,
        **_DESK,
        **_LIMITS,
        **_FHIR,
        **_CODES_OF_EXCHANGE,
        **_SERVER,
        **_SEND,
        **_WORDS,
    }
)


def finding(
    code: str, place: Place, field: str | None = None, raw: str | None = None, **words: object
) -> Finding:
    """The finding of kind `code` at `place`. The word `hint` is what was probably meant."""
    kind = CODES[code]
    fix = kind.fix.format_map(words)
    return Finding(
        severity=kind.severity,
        code=code,
        place=place,
        message=kind.message.format_map(words),
        fix=f"{fix} Did you mean {words['hint']}?" if words.get("hint") else fix,
        field=field,
        raw=raw,
    )
