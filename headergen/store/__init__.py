"""What is kept in the user's cache folder from one run to the next, so that it need not be made again.

A file there is named after the hash of all that its content was made from. What cannot be read back whole is removed
and made anew, and what cannot be written is not missed.
"""
