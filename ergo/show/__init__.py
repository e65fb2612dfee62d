"""What people see: command line, text, JSON, figures, report, pages."""
