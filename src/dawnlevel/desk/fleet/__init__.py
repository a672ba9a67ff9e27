"""Watching many tanks: each judged once, by this process, by several, or by a Dask cluster, into one file."""
