"""The demo: an invented refit for trying things out, made once and kept, with fresh sign-in links at each start."""

from tackwatch.work.demo.begin import DemoLink, begin_demo

__all__ = ["DemoLink", "begin_demo"]
