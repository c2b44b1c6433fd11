"""The full-size print of a header: parts for a hobby printer that fit together in one way only.

Every tube part has a spigot at its end toward the flange and a socket at its end toward the collector. The spigot also
fits the bore of the steel tube before it, so printed parts can be replaced with steel one at a time, starting at the
flange. Ribs on the spigot go into open notches of the socket. The angles between the ribs differ from joint to joint,
so neither a wrong neighbour nor a wrong rotation fits. Flat faces meet, so lengths add up.
"""
