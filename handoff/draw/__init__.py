"""Pages -> PDF bytes: `chart` makes vector marks of a series, `paper` lays out the page.

Input: finished pages. Output: bytes. Holds no wording, no number and no rule.
"""
