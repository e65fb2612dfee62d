"""What is not known exactly: distributions, draws, probabilities, sensitivity."""
