"""What a move asks of the whole team: body, layers, slide, turn, hold, landing, and the procedure they form."""
