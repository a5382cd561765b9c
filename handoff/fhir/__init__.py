"""Exchange with a hospital's record system: HL7 FHIR, release 4, in JSON.

Input: what a log, its measures and its sheets say; the answers of a server that the user names.
Output: Bundles. The record's own facts (patient, encounter, bed, order, goal) are read, and never
created or changed. Only `client` opens a connection, and only the `fhir` command loads it.
"""
