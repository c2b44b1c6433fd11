"""Things kept in the user's cache folder from one run to the next, so that they need not be made again.

A file there is named after the hash of all that its content was made from. A file that cannot be read completely is
removed and made again; one that cannot be written is skipped.
"""
