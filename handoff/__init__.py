"""From a ward's incentive-spirometry shift log to the sheets that are handed over.

Read the rooms in the order of the stages: `read`, `check`, `gather`, `measure`, `judge`, `explain`,
`compose`, `draw`, `store`. `run` leads a log through them, `cli` and `desk` are what a user sees,
and `model`, `log` and `limits` are what the stages share.
"""

__version__ = "0.1.0"
