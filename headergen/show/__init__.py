"""What is shown of a header, in pictures and on pages: meshes thin enough for it, and the frame of a page."""
