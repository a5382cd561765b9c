"""Writes everything that is printed, in finished words: hand-over, measures, verdicts -> pages.

Input: the results of the stages before. Output: `PatientPage`, `UnitPage`, `DischargePage`,
`BlankPage`, `RoundPage`, `CoursesPage`, and the files of measures for other programs. Computes no
measure and no verdict. The only room that knows Jinja2 and the templates.
"""
