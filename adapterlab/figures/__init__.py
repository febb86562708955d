"""The pictures, one module for each section.

Each has ``FIGURES``: name -> function that takes the section's assessment and returns a
matplotlib figure. `style` is the one place for their look.
"""
