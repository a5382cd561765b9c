"""The limits of all cautions, with their sources: `limits.yaml`, its reading and printing.

Input: `limits.yaml`, and by path a unit's own values. Output: `Limits`, or findings, or text. Never
judges.
"""
