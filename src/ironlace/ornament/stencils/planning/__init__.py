"""From a filled drawing to a plan: layer by layer, tried, proven, reported, put into words."""
