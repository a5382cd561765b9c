"""Bytes -> files: all or nothing, readable by their owner only, and safely named.

Input: relative file names and bytes. Output: a folder. Never looks into the files. Never merges
with or removes a folder that this program did not write.
"""
