"""What is written into a log: a form -> a row or a cell, checked before and proved after writing.

Input: a log on disk and what was typed. Output: the log with just that changed, or `EditError`.
Knows no browser.
"""
