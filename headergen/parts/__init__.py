"""What is fitted to tubes and collectors: where each part is seated, and the room it takes."""
