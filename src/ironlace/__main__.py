"""`python -m ironlace` is the `ironlace` command."""

from ironlace.cli import main

if __name__ == "__main__":
    main()
