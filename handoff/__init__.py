"""From a ward's incentive-spirometry shift log to the sheets that are handed over.

Read the rooms in the order of the stages: `read`, `check`, `gather`, `measure`, `judge`, `explain`,
`compose`, `draw`, `store`. `run` takes logs through all stages. A user sees `cli` and `desk`. The
stages share `model`, `log` and `limits`.
"""

__version__ = "0.1.0"
