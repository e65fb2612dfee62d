"""Published cases beside what the model predicts."""
