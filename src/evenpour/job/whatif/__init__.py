"""What the model says with some things set otherwise, for the printed answer and the bench."""
