"""Runs the stages, one unit at a time: paths of logs -> hand-overs -> the files that are printed.

Input: paths, options, who does the work. Output: `Handover`s, relative file names and bytes, and
findings, within the bounds of the run. Decides nothing about a patient and writes no file.
"""
