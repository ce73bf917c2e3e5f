"""`python -m dashboard.cli`: the command `tetherline` without an installed script."""

from dashboard.cli.main import main

if __name__ == "__main__":
    main()
