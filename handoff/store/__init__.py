"""Bytes -> files: all or nothing, readable by their owner only, and safely named.

Input: relative file names and bytes. Output: a folder. Knows nothing of what is in the files, and
never merges with or removes a folder that this program did not write.
"""
