"""headergen: from a YAML spec of a tubular exhaust header to checked paths, gaps and solids.

The pipeline is `headergen.pipeline`; the commands are `headergen.commands`. This package imports nothing heavy.
In a script, `headergen.load("my_job.yaml")` returns a header with its findings and its solids: see `headergen.script`.
"""

from headergen.script import load as load

__version__ = "0.1.0"
