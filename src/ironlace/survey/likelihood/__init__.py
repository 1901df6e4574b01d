"""How probable the marks are under a way of numbering, with misreadings and strays."""
