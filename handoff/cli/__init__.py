"""The command line: arguments as typed -> an exit code, results and findings.

Input: arguments. Output: what a command prints; a module for each command. Computes nothing about a
patient: every number and word comes from the stages. No other room imports it.
"""
