"""The types that the stages pass on, and what all stages share: findings, bounds, rounding.

Input: nothing. Output: frozen records. Knows no file format, no stage and no library.
"""
