"""So that `python -m trainer` works as `trainer` does."""

from trainer.cli.main import main

if __name__ == "__main__":
    main()
