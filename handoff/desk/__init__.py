"""The desk page: the same program for people who will not open a terminal.

Input: a folder of logs, and what a browser on this machine asks. Output: pages, the very PDFs of
`handoff sheets`, and rows written into the logs. Nothing is computed here: every number, word and
sheet comes from the stages before.

From the file up to the browser, each module knows those above it:

- `csv_text`, `yaml_text`: the text of a log -> the same text with one row or cell changed.
- `edits`: the same for either format, and the proof: the new text is read again, and where anything
  differs besides what was asked for, the edit is refused.
- `logbook`: a log on disk, the only store: locked, added to and flushed, replaced whole, backed up.
- `ward`: open logs -> hand-overs, results and words, kept until a file changes or a minute passes.
- `still_open`: what is open of a patient, in the words of the sheet, for the pages to offer steps.
- `entering`: a form -> an entry, checked in its log before it is written.
- `mending`: findings -> rows with the cells that they are about; corrections, checked as well.
- `starting`: the patients and orders of the last shift -> a log for the next one.
- `drawing`: a chart's `Drawing` -> SVG, mark for mark.
- `safety`: who may ask (address, host, origin, cookie, form key, size), and the headers.
- `here`, `forms`, `pages_...`, `app`: the pages by what is done on them; templates, style and
  script are in `templates/desk/`.
- `serve`: the server: one address, the browser, idle time, Ctrl-C.

The locks: that of a log's folder (`logbook.locked`) is taken before `ward.STAGES`, never after it.
An address holds opaque keys of this run, never a name, id or bed, and the server prints its address
and nothing else. Which logs are open is the same for all tabs; a form names its log and row by key
and fingerprint, so that a tab that is behind is told so and writes nothing.
"""
