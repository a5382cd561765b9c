"""The contract of a log: its fields, and how cells, times, names and repeated entries are read.

Input: raw text. Output: values, or a finding that says how to mend the text. Never opens a log, and
never guesses.
"""
