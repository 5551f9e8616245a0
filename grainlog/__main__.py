"""`python -m grainlog` is the same as `grainlog`."""

from grainlog.cli import main

if __name__ == "__main__":
    main()
