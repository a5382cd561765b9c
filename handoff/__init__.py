"""From a ward's incentive-spirometry shift log to the sheets that are handed over.

Read the modules in the order of the stages: `read`, `check`, `gather`, `measure`, `judge`,
`compose`, `chart`, `paper`, `store`. `cli` runs them.
"""

__version__ = "0.1.0"
