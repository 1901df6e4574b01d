"""The photographs: frames, balls, the camera held still, where the torch stood."""
