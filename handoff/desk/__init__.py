"""The desk: the same program as pages in a browser, for people who will not open a terminal.

Input: a folder of logs, and what a browser on this machine asks. Output: pages, the very PDFs of
`handoff sheets`, and rows written into the logs. Nothing is computed here: every number, word and
sheet comes from the stages before.

`serve` runs the application of `app`, which `safety` guards. A module of `pages/` answers each
page, from what `ward` keeps of the open logs; whatever is written goes through `edits/`. The state
of a run is one object of the application, `current.State`. Style, script and templates are in
`templates/desk/`.

The log files are the only store. A log's folder is locked (`logbook.locked`) while it is read or
written; the stages may run in several threads at once, since what a run keeps is safe to share. An
address holds opaque keys of this run, never a name, id or bed. Which logs are open is the same for
all tabs; a form names its log and row by key and fingerprint, so that a tab that shows an older
state says so and writes nothing.
"""
