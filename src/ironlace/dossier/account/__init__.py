"""A machine's account as blocks of words and pictures, whoever shows it."""
