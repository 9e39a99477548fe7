"""Is the record whole? Each check reads all rows and yields what is off, with a remedy."""
