"""headergen: from a YAML spec of a tubular exhaust header to checked paths, gaps and solids.

The pipeline is `headergen.pipeline`; the commands are `headergen.cli`. Importing this package imports nothing heavy.
"""

__version__ = "0.1.0"
