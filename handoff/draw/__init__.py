"""Pages -> PDF bytes: `chart` makes vector marks of a series, `paper` lays out the page.

Input: finished pages. Output: bytes. Has no words, numbers or rules of its own.
"""
