"""Runs the stages: paths of logs -> hand-overs -> the files that are printed.

Input: paths, options, who does the work. Output: `Handover`s, relative file names and bytes, and
findings. Decides nothing about a patient and writes no file.
"""
