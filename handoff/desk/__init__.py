"""The desk page: the same program for people who will not open a terminal.

Enters: a folder of logs, and what a browser on this machine asks. Leaves: pages, the very PDFs of
`handoff sheets`, and rows written into the logs. Nothing is computed here: every number, word and
sheet comes from the stages before.

How it is built, from the file up to the browser; each module knows only those above it:

`csv_text`, `yaml_text`  text of a log -> the same text with one row or cell changed, the rest as it was
`edits`                  the same for either format, and proof: the new text is read again, and
                         whatever differs besides what was asked for refuses the edit
`logbook`                a log on disk, the only store: locked, appended and flushed, replaced whole, backed up
`ward`                   open logs -> hand-overs, results and pages, kept until a file changes
`entering`               a form -> an entry, checked in its log before it is written
`mending`                findings -> rows with the cells that they are about; corrections, checked too
`starting`               last shift's patients and orders -> a log for the next one
`drawing`                a chart's `Drawing` -> SVG, mark for mark
`safety`                 who may ask: address, host, origin, cookie, form key, size; and what headers say
`app`, `pages_...`       the pages, by what is done on them; templates and style in `templates/desk/`
`serve`                  the server: its one address, the browser, idle time, Ctrl-C

Who opens the desk trusts it with patients: an address holds opaque keys of this run and never a name,
id or bed; the server prints its address and nothing else; pages are never stored by the browser. One
process holds which logs are open, so that all tabs agree; a form names its log and row by key and
fingerprint, so that a tab that is behind is told so and writes nothing.
"""
