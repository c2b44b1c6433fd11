"""The display of a header in pictures and on pages: thinned meshes, and the frame of a page."""
