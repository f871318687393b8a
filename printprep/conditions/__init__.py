"""What the print will be: the paper, the room, the sheet."""
