"""What options cost and when they pay back."""
