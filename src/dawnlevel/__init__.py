"""Dawnlevel: dissolved CO2 where it belongs at lights-on, from a keeper's few readings."""

__version__ = "0.1.0"
