"""The types between the stages, and what all of them share: findings, bounds, rounding.

Input: nothing. Output: frozen records. Knows no file format, no stage and no library.
"""
