"""The types that the stages pass on, and what all stages share: findings, bounds, rounding.

Input: nothing. Output: frozen records. Knows no format of logs, no stage and no heavy library.
"""
