"""The contract of a log: its fields, and how a cell, a time, a name and a repeat are read.

Input: raw text. Output: values, or a finding that says how to mend the text. Never opens a log, and
never guesses.
"""
