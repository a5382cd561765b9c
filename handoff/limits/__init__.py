"""Every limit of a caution, with its source: `limits.yaml`, reading it, printing it.

Input: `limits.yaml`, and by path a unit's own values. Output: `Limits`, or findings, or text. Never
judges.
"""
