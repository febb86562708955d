"""Running the notebooks, exporting pages and figures, the command line.

`notebooks` runs and stores notebooks, `pages` turns them into HTML, `folder` writes output
folders whole or not at all, `review` puts it together, `cli` is the command.
"""
