"""The phone's door: one phone, nothing twice, nothing seen, nobody else."""
