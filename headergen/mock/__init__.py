"""The full-size print of a header: parts for a hobby printer that fit together in one way only.

It is divided where the steel is, so that each tube part is the twin of one steel piece, or a share of it.
Every tube part carries a spigot at its end toward the flange and a socket at its end toward the collector, so the
spigot of each part also goes into the bore of the steel tube before it: printed parts are replaced with steel piece by
piece, starting at the flange. Ribs on the spigot stand in open notches of the socket; the turns between them differ
from joint to joint, so neither a wrong neighbour nor a wrong rotation goes together. Flat faces meet, so lengths add
up.
"""
