"""What subjects are told, as messages: texts, calendar files, and handing them to a mail server."""
