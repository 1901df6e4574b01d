"""How needle bar, take-up, shuttle and feed move with the hand wheel, and how they meet."""
