"""Writes into a log: a form -> a row or a cell, checked before, and proved to change nothing else.

Input: a log on disk and typed text. Output: the log with only that change, or `EditError`. Knows no
browser.
"""
