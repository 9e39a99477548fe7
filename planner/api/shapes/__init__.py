"""What bodies and answers look like, one noun a file."""
