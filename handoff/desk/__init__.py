"""The desk: the same program as pages in a browser, for people who will not open a terminal.

Input: a folder of logs, and requests of a browser on this machine. Output: pages, the same PDFs as
`handoff sheets`, and rows written into the logs. Computes nothing: every number, word and sheet
comes from the stages.

`serve` runs the application of `app`, and `safety` guards it. Each page is a module of `pages/`; it
reads the open logs through `ward`, and writes only through `edits/`. The state of a run is one
object of the application, `current.State`. Style, script and templates are in `templates/desk/`.

The log files are the only store; `drafts` keeps what is typed until it is saved in one. A log's
folder is locked (`logbook.locked`) while a log is read or written. The stages may run in several
threads at once: the state of a run is safe to share. An address holds opaque keys, never a name, id
or bed. All tabs have the same open logs. A form names its log and row by key and fingerprint: a tab
with an older state says so and writes nothing.
"""
