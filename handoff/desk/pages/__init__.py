"""The pages of the desk, a module for each: a request -> a page, or a change and a redirect.

Input: a request. Output: a response. Computes nothing about a patient; writes only
through `edits`.
"""
