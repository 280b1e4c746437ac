"""The commands of `python -m listen.bench`: options in, calls to the package, files and tables out."""
