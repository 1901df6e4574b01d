"""Reports of other machines as they come in: tables, spreadsheets, pasted text, dated numbers."""
