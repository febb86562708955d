"""Checks of arguments, captures, and the cores that walk a rectifier or a surge through time.

What several sections' equations share; it knows none of them.
"""
