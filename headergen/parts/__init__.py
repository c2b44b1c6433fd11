"""Parts fitted to tubes and collectors: where each is seated, and the room it takes."""
