"""The short way for projects without people and windows: places alone, as in published instances.

`short` says whether a project is one and makes it ready, `model` is its constraint model, `course` the search.
"""
