"""What people read: tables, figures, text, HTML, Markdown, CSV, JSON."""
