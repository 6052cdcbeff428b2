"""``python -m pathprofile``."""

from pathprofile.cli import main

if __name__ == "__main__":
    main()
