"""The account in print: the dossier, sheets and laying sheets at true scale."""
