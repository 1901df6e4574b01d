"""Where it is kept: database, originals by checksum, records, photographs, checks, backups."""
