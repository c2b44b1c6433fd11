"""Work that takes seconds, each job in its own child processes.

The CAD kernel holds the interpreter's lock, and a renderer without a screen may end its process. In a child neither can
freeze the progress bar, swallow Ctrl-C or end the run. Children get plain data and paths, write into the folder they
are given, and send back what they did; only the parent renames and kills.
"""
