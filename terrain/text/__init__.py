"""Messages, figures and catalogues; nothing here knows of routes."""
