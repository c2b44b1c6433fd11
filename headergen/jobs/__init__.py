"""Work that takes seconds, each job in child processes of its own.

The CAD kernel holds the interpreter's lock and a renderer without a screen may end its process; in children neither can
freeze the progress bar, swallow Ctrl-C or take the run down. Children get plain data and paths, write into the folder
they are given, and send back what they did; only the parent renames and kills.
"""
